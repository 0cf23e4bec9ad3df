using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Jobs;

public enum CutMode
{
    Vector,
    Raster,
}

/// <summary>The recorded settings of a proven cut. What was not written down is null, and is not judged.</summary>
/// <param name="RecordedAt">When the cut was proven; of several records of one job the newest is in force.</param>
/// <param name="SpeedMmPerS">Head speed, mm/s.</param>
/// <param name="AirPressureTolerance">Allowed fall below the recorded pressure, as a fraction; null: the rule's default.</param>
public sealed record JobRecord(
    string Job, Instant RecordedAt, string? Material, PowerPercent? Power, double? SpeedMmPerS, Kilopascals? AirPressure,
    Milliamps? TubeCurrent, CutMode Mode = CutMode.Vector, double? AirPressureTolerance = null);
