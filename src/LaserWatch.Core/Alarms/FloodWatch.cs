using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>A flood began, or ended.</summary>
/// <param name="At">When: at the annunciation that made it a flood, or when enough of them had left the window.</param>
/// <param name="Annunciations">From the beginning of the window in which it began, so far.</param>
public readonly record struct FloodChange(Instant At, bool Began, int Annunciations);

/// <summary>Tells when alarms come faster than one person can take them in, over all machines of the shop.</summary>
/// <remarks>
/// An annunciation is a change to unacknowledged, also where a standing alarm calls again because it got worse. It counts at the
/// moment it reaches people: late news of an old fault count now, at the newest time seen. Time never goes back. The same changes
/// and ticks give the same floods, so whoever needs it keeps one of his own; no thread but one may use it.
/// Memory: the changes of one flood, one for each alarm, and the newest few annunciations.
/// </remarks>
public sealed class FloodWatch(FloodOptions options)
{
    private readonly int _mostKept = Math.Max(options.StartsAt, options.EndsBelow);
    private readonly Queue<Annunciation> _newest = new();
    private readonly Dictionary<string, Dictionary<string, AlarmChange>> _inFlood = new(StringComparer.Ordinal);
    private Instant _now = Instant.MinValue;
    private int _annunciations;

    /// <summary>True from the annunciation that makes a flood until fewer than <see cref="FloodOptions.EndsBelow"/> are in the window.</summary>
    public bool InFlood => Since is not null;

    /// <summary>Since when the flood is; null where there is none.</summary>
    public Instant? Since { get; private set; }

    /// <summary>Annunciations of the flood, with those of the window in which it began; 0 where there is none.</summary>
    public int Annunciations => InFlood ? _annunciations : 0;

    /// <summary>The alarms annunciated in this flood, each by its newest annunciation, root causes first; empty where there is no flood.</summary>
    public IReadOnlyList<PlacedAlarm> Alarms => AlarmOrder.RootsFirst(All());

    /// <summary>What several machines of this flood point to; empty where there is no flood, or no such thing.</summary>
    /// <param name="shopMachines">Machines of the shop, whether or not they have alarms.</param>
    public IReadOnlyList<CommonCause> CommonCauses(int shopMachines) => CommonCause.In(All(), shopMachines, options);

    /// <summary>False where an alarm of this flood explains the one given. Quick, also where the flood is of thousands.</summary>
    public bool IsRoot(AlarmChange alarm) =>
        !_inFlood.TryGetValue(alarm.Machine, out var ofMachine) || AlarmOrder.CauseOf(alarm, ofMachine.Values) is null;

    /// <summary>What the change makes of the flood: nothing mostly; an end that was due before it comes first.</summary>
    public IReadOnlyList<FloodChange> Observe(AlarmChange change)
    {
        var changes = Tick(change.Time);
        if (change.State != AlarmState.Unacknowledged)
            return changes;

        _newest.Enqueue(new(_now, change));
        if (_newest.Count > _mostKept)
            _newest.Dequeue();
        if (InFlood)
        {
            _annunciations++;
            Add(change);
            return changes;
        }

        if (CountInWindow() < options.StartsAt)
            return changes;
        Since = _now;
        foreach (var before in _newest.Where(a => IsInWindow(a.At)))
        {
            _annunciations++;
            Add(before.Change);
        }

        return [.. changes, new(_now, true, _annunciations)];
    }

    /// <summary>Lets time go on; a time before the newest changes nothing.</summary>
    public IReadOnlyList<FloodChange> Tick(Instant now)
    {
        if (now > _now)
            _now = now;
        if (!InFlood || CountInWindow() >= options.EndsBelow)
            return [];

        // It ended when the last one that was needed left the window, which may be a while before this tick.
        var ended = _newest.ElementAt(_newest.Count - options.EndsBelow).At + options.Window;
        var change = new FloodChange(ended, false, _annunciations);
        Since = null;
        _annunciations = 0;
        _inFlood.Clear();
        return [change];
    }

    /// <summary>The clock by which alarms are stamped has stepped: what was counted keeps its distance to what comes.</summary>
    public void Shift(TimeSpan by)
    {
        if (_now == Instant.MinValue)
            return;
        _now += by;
        Since += by;
        for (var i = _newest.Count; i > 0; i--)
        {
            var oldest = _newest.Dequeue();
            _newest.Enqueue(oldest with { At = oldest.At + by });
        }
    }

    private void Add(AlarmChange change)
    {
        if (!_inFlood.TryGetValue(change.Machine, out var ofMachine))
            _inFlood.Add(change.Machine, ofMachine = new(StringComparer.Ordinal));
        ofMachine[change.Condition] = change;
    }

    private IEnumerable<AlarmChange> All() => _inFlood.Values.SelectMany(ofMachine => ofMachine.Values);

    private int CountInWindow() => _newest.Count(a => IsInWindow(a.At));

    // Open at the far end: what came ten minutes ago is no longer within ten minutes.
    private bool IsInWindow(Instant at) => at + options.Window > _now;

    private readonly record struct Annunciation(Instant At, AlarmChange Change);
}
