using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>A machine's own time: the time of its samples, carried on by our clock while it is silent.</summary>
/// <remarks>
/// Sensors keep their own clocks, and after an outage they deliver what they kept. Ticks on our clock would then call every
/// channel silent. So a tick lags as far as the machine's newest sample did when it came. After a restart or an outage of the
/// broker, time stands still for <see cref="Grace"/>: nobody could be heard, so nobody was silent.
/// <para>
/// When our clock jumps, a machine's time does not: no rule may see an hour pass that did not. A machine whose sensors tell their own
/// time needs no more. One whose samples bear the time of their arrival goes on by the new time, and <see cref="ShiftDue"/> says how
/// far its watch must move with it.
/// </para>
/// </remarks>
public sealed class MachinePace
{
    /// <summary>How long sensors may take to come back before their silence counts.</summary>
    public static readonly TimeSpan Grace = TimeSpan.FromSeconds(60);

    /// <summary>A machine no sample of which bore our time for so long has sensors that tell their own.</summary>
    private static readonly TimeSpan OwnClockAfter = TimeSpan.FromMinutes(10);

    /// <summary>No watch puts a sample in order that is further behind.</summary>
    private static readonly TimeSpan Window = TimeSpan.FromSeconds(5);

    private Instant? _newest;
    private Instant? _stamped;
    private TimeSpan _lag;
    private TimeSpan _unshifted;
    private bool _shiftIsDue;
    private Instant _standsStillUntil = Instant.MinValue;
    private bool _setBackUnheard;

    /// <summary>A former process heard the machine last.</summary>
    /// <param name="clockSetBack">Our clock is behind what it was then.</param>
    public void Resume(Instant? newest, Instant now, bool clockSetBack)
    {
        _newest = newest;
        _setBackUnheard = clockSetBack;
        ReachableSince(now);
    }

    /// <param name="stampedByUs">The sample bears the time of its arrival.</param>
    public void Heard(Instant sampleTime, Instant arrival, bool stampedByUs = false)
    {
        _setBackUnheard = false;
        if (stampedByUs)
            _stamped = arrival;
        else if (!IsStampedByUs(arrival))
            _shiftIsDue = false;
        if (sampleTime < _newest)
            return;
        _newest = sampleTime;
        _lag = arrival - sampleTime;
    }

    /// <summary>Nobody could be heard until now.</summary>
    public void ReachableSince(Instant now) => _standsStillUntil = now + Grace;

    /// <summary>Our clock has jumped.</summary>
    public void Jump(in ClockJump jump)
    {
        var own = !IsStampedByUs(jump.Before);
        _lag += jump.By;
        _unshifted += jump.By;
        _shiftIsDue = _unshifted != TimeSpan.Zero;
        if (_stamped is not null)
            _stamped += jump.By;
        if (_standsStillUntil > Instant.MinValue)
            _standsStillUntil += jump.By;

        // A computer that slept: sensors with clocks of their own did not, and each needs a moment to be heard again.
        if (own && jump.By > TimeSpan.Zero)
            ReachableSince(jump.After);
    }

    /// <summary>How the watch must move before it takes a sample; null: not at all.</summary>
    /// <param name="stampedByUs">The sample bears the time of its arrival.</param>
    /// <param name="mostAhead">How far a sensor's clock may be ahead of ours: a newest sample further ahead bore the time of ours, before it was set back.</param>
    public ClockShift? ShiftDue(Instant sampleTime, Instant arrival, bool stampedByUs, TimeSpan mostAhead)
    {
        if (_newest is not { } newest)
            return null;
        if (_shiftIsDue && (stampedByUs || WentWithOurClock(sampleTime, arrival)))
            return Shift(newest, _unshifted);
        if (!stampedByUs)
            return null;

        // Nobody saw the clock set back where that was before the start.
        var ahead = newest - arrival;
        return ahead > (_setBackUnheard ? Window : mostAhead) ? Shift(newest, ahead.Negate()) : null;
    }

    // A sensor's own time is not taken while it is far off ours; when our clock is put right again it is, and leaps as far as our clock did.
    private bool WentWithOurClock(Instant sampleTime, Instant arrival) =>
        _unshifted.Duration() > 2 * Window && (sampleTime - (arrival - _lag + _unshifted)).Duration() < Window;

    /// <summary>The machine's time at a tick; null where it stands still, or nothing was ever heard.</summary>
    public Instant? TimeAt(Instant tick) => _newest is null || tick < _standsStillUntil ? null : Translate(tick);

    /// <summary>Our time as the machine's own: never before its newest sample, even where our clock was set back.</summary>
    public Instant Translate(Instant ours)
    {
        var time = ours - _lag;
        return _newest is { } newest && time < newest ? newest : time;
    }

    /// <summary>Our time without the jumps that the machine's watch has not followed.</summary>
    public Instant WithoutJumps(Instant ours) => ours - _unshifted;

    private bool IsStampedByUs(Instant now) => _stamped is { } stamped && now - stamped < OwnClockAfter;

    private ClockShift Shift(Instant newest, TimeSpan by)
    {
        _newest = newest + by;
        _lag -= by;
        _unshifted = TimeSpan.Zero;
        _shiftIsDue = false;
        return new(newest, by);
    }
}
