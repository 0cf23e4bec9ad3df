using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>A run that the tube's samples, which come late and in order, have not reached yet.</summary>
internal sealed class PendingRun
{
    public Instant At;
    public Run? Run;

    public void Visit(StateVisitor state, JobBook jobs)
    {
        state.Walk(ref At);
        RunTracker.VisitRun(state, ref Run, jobs);
    }
}
