using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>All alarms of one machine: a latch for each rule, which alarm explains which, and the changes nobody has taken yet.</summary>
internal sealed class AlarmBoard
{
    private readonly string _machine;
    private readonly AlarmOptions _options;
    private readonly Dictionary<string, AlarmLatch> _latches;
    private readonly AlarmLatch[] _inOrder;
    private readonly Effect[] _effects;
    private List<AlarmChange>? _changes;

    public AlarmBoard(string machine, AlarmOptions options, IReadOnlyList<Rule> rules)
    {
        (_machine, _options) = (machine, options);
        _inOrder = [.. rules.Select(rule => new AlarmLatch(machine, rule.Condition, options))];
        _latches = _inOrder.ToDictionary(latch => latch.Condition, StringComparer.Ordinal);
        _effects =
        [
            .. Dependencies.All.GroupBy(d => d.Effect).Select(group => new Effect(_latches[group.Key], [.. group.Select(d => new Cause(_latches[d.Cause], d))])),
        ];
    }

    public AlarmLatch this[string condition] => _latches[condition];

    /// <summary>The alarms that are not normal, newest state each.</summary>
    public IReadOnlyList<AlarmChange> Standing => [.. _inOrder.Where(l => l.State != AlarmState.Normal && l.Last is not null).Select(l => l.Last!)];

    /// <summary>Each alarm that has ever been raised.</summary>
    public IEnumerable<AlarmLatch> Raised => _inOrder.Where(l => l.Raised is not null);

    /// <summary>Grows whenever <see cref="Standing"/> may have become another.</summary>
    public int Version { get; private set; }

    /// <summary>What has changed since this was last called.</summary>
    public IReadOnlyList<AlarmChange> TakeChanges()
    {
        var changes = _changes ?? MachineWatch.Nothing;
        _changes = null;
        return changes;
    }

    /// <param name="place">The rule's place among those that the board was made with.</param>
    public void Apply(int place, Rule rule, Reading reading, Instant at, in Verdict verdict)
    {
        var latch = _inOrder[place];
        var before = latch.Last;
        var change = latch.Apply(reading, at, verdict, rule);
        // A shelved alarm's newest finding is taken note of without a word.
        if (!ReferenceEquals(before, latch.Last))
            Version++;
        if (change is null)
            return;
        Add(change);
        Relate(at);
    }

    /// <summary>False where the command means nothing to the alarm as it stands.</summary>
    public bool Apply(AlarmCommand command)
    {
        var change = _latches.TryGetValue(command.Condition, out var latch) ? latch.Apply(command) : null;
        Add(change);
        Relate(command.At);
        return change is not null;
    }

    /// <summary>Takes up what was announced before a restart and came of ticks, which nobody shows it again; the newest change of each condition.</summary>
    public void Resume(IEnumerable<AlarmChange> announced)
    {
        foreach (var change in announced)
        {
            if (_latches.TryGetValue(change.Condition, out var latch))
                latch.TakeUp(change);
        }

        Version++;
    }

    /// <summary>The cause of these alarms was taken away.</summary>
    public void Clear(Instant at, string why, params ReadOnlySpan<string> conditions)
    {
        foreach (var condition in conditions)
            Add(_latches[condition].Clear(at, why));
        Version++;
    }

    public void Tick(Instant now)
    {
        foreach (var latch in _inOrder)
            Add(latch.Tick(now));
        Relate(now);
    }

    /// <summary>Walked by name, so that a limit added to or taken from the configuration does not cost the rest.</summary>
    public void Visit(StateVisitor state)
    {
        var names = _inOrder.Select(latch => new Name { Value = latch.Condition }).ToList();
        state.Walk(names, () => new Name(), name =>
        {
            state.Walk(ref name.Value);
            (_latches.TryGetValue(name.Value ?? "", out var latch) ? latch : new AlarmLatch(_machine, name.Value ?? "", _options)).Visit(state);
        });
        Version++;
    }

    // At once after each change, and causes are judged before their effects: what is explained is not told first.
    private void Relate(Instant at)
    {
        foreach (var effect in _effects)
        {
            Dependency? nearest = null;
            foreach (var (latch, dependency) in effect.Causes)
            {
                // Nearest first, but what silences goes before what only sorts.
                if (nearest is null or { Folded: false } && (nearest is null || dependency.Folded) && latch.Explains(at, dependency.Settling))
                    nearest = dependency;
            }

            Add(effect.Latch.Relate(at, nearest));
        }
    }

    private void Add(AlarmChange? change)
    {
        if (change is null)
            return;
        (_changes ??= []).Add(change);
        Version++;
    }

    private readonly record struct Cause(AlarmLatch Latch, Dependency Dependency);

    private readonly record struct Effect(AlarmLatch Latch, Cause[] Causes);

    private sealed class Name
    {
        public string? Value;
    }
}
