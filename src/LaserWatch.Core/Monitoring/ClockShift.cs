using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>A step of the clock that stamps a machine's samples, as a watch must be told of it: what it remembers of late moves along.</summary>
/// <remarks>
/// Only what lies within <see cref="Reach"/> of <paramref name="Seen"/> moves, since that was stamped by the clock that stepped. A
/// tube put in last year was not. So a clock that starts in 1970 and is then set right leaves every memory where it was.
/// </remarks>
/// <param name="Seen">The time before the step, by the clock that stepped.</param>
/// <param name="By">How far it stepped; below zero: back.</param>
public readonly record struct ClockShift(Instant Seen, TimeSpan By)
{
    /// <summary>Longer than any delay, run and shelving that a rule counts by.</summary>
    public static readonly TimeSpan Reach = TimeSpan.FromDays(1);

    public Instant Of(Instant at) => at >= Seen - Reach && at <= Seen + Reach ? at + By : at;
}
