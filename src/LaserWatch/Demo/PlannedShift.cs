using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>A run that will be made.</summary>
/// <param name="Announced">False where nobody sends job events, so that the run must be worked out.</param>
public sealed record PlannedRun(JobRecord Job, Instant Start, TimeSpan Duration, bool Announced = true)
{
    public Instant End => Start + Duration;
}

/// <summary>The time that a machine is switched on, and its runs in order of time.</summary>
public sealed record PlannedShift(Instant On, Instant Off, IReadOnlyList<PlannedRun> Runs)
{
    /// <summary>What was done to the machine before it was switched on.</summary>
    public IReadOnlyList<ServiceEvent> Services { get; init; } = [];
}
