using LaserWatch.Telemetry;

namespace LaserWatch.Upkeep;

/// <summary>The newest work at one part of a machine.</summary>
/// <param name="Part">Lower-case, words joined by '-'.</param>
/// <param name="LastAction">Lower-case, as the log named it.</param>
/// <param name="BeamHoursSince">Beam hours counted since then, at the moment of asking: at least so many, as beam before the watch began or while it and the hour meter were off is not seen.</param>
public readonly record struct PartUpkeep(string Part, string LastAction, Instant At, double BeamHoursSince, string? Serial, string? Note)
{
    /// <summary>Days from then to <paramref name="now"/>; 0 where that is not later.</summary>
    public double DaysSince(Instant now) => Math.Max(0, now.SecondsSince(At) / 86_400);
}
