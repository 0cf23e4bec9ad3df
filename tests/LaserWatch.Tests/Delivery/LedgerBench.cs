using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

/// <summary>A ledger whose outlets take whatever is due at once, at times that the test sets; restarted as often as wanted.</summary>
internal sealed class LedgerBench : IDisposable
{
    private readonly TemporaryFolder _folder = new();
    private readonly DeliveryOptions _options;
    private readonly Dictionary<string, List<string>> _said = [];
    private OutboxLedger _ledger;

    public LedgerBench(DeliveryOptions options, string now = "2026-03-09T08:00:00Z")
    {
        _options = options;
        At(now);
        _ledger = Open();
    }

    public Instant Now { get; private set; }

    /// <summary>Outlets that take nothing.</summary>
    public HashSet<string> Down { get; } = [];

    /// <summary>Every message that an outlet took, in order.</summary>
    public Dictionary<string, List<AlarmMessage>> Taken { get; } = [];

    public FloodOptions Flood { get; init; } = new();

    /// <summary>Turns the clock, and lets all happen that is due by then.</summary>
    public LedgerBench To(string time)
    {
        At(time);
        Work();
        return this;
    }

    public AlarmChange Change(string condition, AlarmState state, AlarmPriority priority = AlarmPriority.High, string machine = "bay1", double ago = 0, string? message = null) => new(
        Now - TimeSpan.FromSeconds(ago), machine, condition, state, priority, 31.2, 30, "°C", "birch-6-cut", message ?? "coolant is hot", [], ["Look at the chiller."],
        state == AlarmState.Acknowledged ? "ana" : null);

    /// <summary>The watch finds it now.</summary>
    public AlarmChange Post(string condition, AlarmState state = AlarmState.Unacknowledged, AlarmPriority priority = AlarmPriority.High, string machine = "bay1", double ago = 0)
    {
        var change = Change(condition, state, priority, machine, ago);
        Offer(change);
        return change;
    }

    public void Offer(AlarmChange change, ChangeOrigin origin = ChangeOrigin.Live)
    {
        _ledger.Enter([(change, origin)], Now);
        Work();
    }

    /// <summary>Another process on the same file.</summary>
    /// <param name="stored">What the store's log holds by then.</param>
    public int Restart(params AlarmChange[] stored)
    {
        _ledger.Dispose();
        _ledger = Open();
        var missed = _ledger.TakeUp(stored, Now);
        Work();
        return missed;
    }

    /// <summary>What the outlet was told since this was asked last: each message as <c>cause: condition transition, …</c>.</summary>
    public IReadOnlyList<string> Said(string outlet = "office")
    {
        var said = _said.GetValueOrDefault(outlet, []);
        _said[outlet] = [];
        return said;
    }

    public AlarmMessage Last(string outlet = "office") => Taken[outlet][^1];

    public Instant? Due() => _ledger.BringDue(Now);

    public (int Waiting, int Held) Count(string outlet = "office") => _ledger.Count(outlet);

    public void Forget() => _ledger.Forget(Now);

    public void Dispose()
    {
        _ledger.Dispose();
        _folder.Dispose();
    }

    private void At(string time)
    {
        Assert.True(Rfc3339.TryParse(time, out var at), time);
        Now = at;
    }

    private OutboxLedger Open() => new(_folder.File("laserwatch.outbox.db"), new DeliveryRouter(_options), Flood, Now);

    private void Work()
    {
        _ledger.BringDue(Now);
        foreach (var outlet in _options.Outlets().Select(o => o.Key).Where(o => !Down.Contains(o)))
        {
            while (_ledger.Next(outlet, Now) is { } next)
            {
                Keep(outlet, next.Message);
                _ledger.Settle(next.Seq, Settlement.Delivered, null, Now);
            }
        }
    }

    private void Keep(string outlet, AlarmMessage message)
    {
        if (!Taken.TryGetValue(outlet, out var taken))
            Taken.Add(outlet, taken = []);
        taken.Add(message);
        if (!_said.TryGetValue(outlet, out var said))
            _said.Add(outlet, said = []);
        said.Add($"{(message.IsLate ? "late " : "")}{message.Cause.ToString().ToLowerInvariant()}: {string.Join(", ", message.Entries.Select(Say))}");
    }

    private static string Say(AlarmEntry entry) =>
        $"{(entry.Change.Machine == "bay1" ? "" : entry.Change.Machine + " ")}{entry.Change.Condition} {entry.Transition.ToString().ToLowerInvariant()}";
}
