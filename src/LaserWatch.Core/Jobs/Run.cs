using LaserWatch.Telemetry;

namespace LaserWatch.Jobs;

/// <summary>One job being cut, from its start to its end.</summary>
/// <param name="Number">Counts the runs of the machine, so that two runs of one job are told apart.</param>
/// <param name="Job">Null: an unknown job; only the machine's own limits are judged.</param>
/// <param name="Record">The recorded values; null where the job is unknown or nothing was recorded.</param>
/// <param name="Inferred">Worked out from beam and air, since nobody announced it.</param>
public sealed record Run(int Number, string? Job, JobRecord? Record, Instant Since, bool Inferred)
{
    public bool IsRaster => Record?.Mode == CutMode.Raster;

    /// <summary>The run is known to cut along lines; an engraving's tube current is that of its picture.</summary>
    public bool IsVector => Record?.Mode == CutMode.Vector;
}
