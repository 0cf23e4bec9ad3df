using LaserWatch.Telemetry;

namespace LaserWatch.Jobs;

public enum JobEventKind
{
    Start,
    End,
}

/// <summary>A run of a job began or ended on a machine.</summary>
/// <param name="Job">Null where the job is not known, or where an end does not name it.</param>
/// <param name="Inferred">True where no one said so: worked out from the beam and the air.</param>
public sealed record JobEvent(string Machine, Instant At, JobEventKind Kind, string? Job, bool Inferred = false);
