using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>A machine's own time: the time of its samples, carried on by our clock while it is silent.</summary>
/// <remarks>
/// Sensors keep their own clocks, and after an outage they deliver what they kept. Ticks on our clock would then call every
/// channel silent. So a tick lags as far as the machine's newest sample did when it came. After a restart or an outage of the
/// broker, time stands still for <see cref="Grace"/>: nobody could be heard, so nobody was silent.
/// </remarks>
public sealed class MachinePace
{
    /// <summary>How long sensors may take to come back before their silence counts.</summary>
    public static readonly TimeSpan Grace = TimeSpan.FromSeconds(60);

    private Instant? _newest;
    private TimeSpan _lag;
    private Instant _standsStillUntil = Instant.MinValue;

    public void Heard(Instant sampleTime, Instant arrival)
    {
        if (sampleTime < _newest)
            return;
        _newest = sampleTime;
        _lag = arrival - sampleTime;
    }

    /// <summary>Nobody could be heard until now.</summary>
    public void ReachableSince(Instant now) => _standsStillUntil = now + Grace;

    /// <summary>The machine's time at a tick; null where it stands still, or nothing was ever heard.</summary>
    public Instant? TimeAt(Instant tick) => _newest is null || tick < _standsStillUntil ? null : Translate(tick);

    /// <summary>Our time as the machine's own: never before its newest sample, even where our clock was set back.</summary>
    public Instant Translate(Instant ours)
    {
        var time = ours - _lag;
        return _newest is { } newest && time < newest ? newest : time;
    }
}
