using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>How long no channel of a machine has spoken, measured from tick to tick: sensors' clocks may differ from ours.</summary>
internal sealed class QuietTime
{
    private static readonly TimeSpan LongestTick = TimeSpan.FromMinutes(2);

    private Instant? _lastTick;
    private Instant? _tickAtNewest;
    private Instant? _newestAtTick;

    public TimeSpan Lasted { get; private set; }

    /// <summary>True where ticks were missing before this one: then no silence is known.</summary>
    public bool Tick(Instant now, Instant? newest)
    {
        var missing = _lastTick is { } last && now - last > LongestTick;
        _lastTick = now;
        if (_newestAtTick != newest || _tickAtNewest is null || missing)
            (_newestAtTick, _tickAtNewest) = (newest, now);
        Lasted = now - _tickAtNewest.Value;
        return missing;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _lastTick);
        state.Walk(ref _tickAtNewest);
        state.Walk(ref _newestAtTick);
    }
}
