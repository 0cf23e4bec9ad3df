using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Simulation;

/// <summary>Where a simulated machine tells what it does: a watch that judges it at once, or a recording.</summary>
internal interface ITelemetrySink
{
    void Take(JobRecord record);

    void Take(JobEvent change);

    void Take(ServiceEvent service);

    /// <param name="at">The sample's own time; late ones come after others of a later time.</param>
    void Take(Instant at, ReadOnlySpan<ChannelValue> values);

    /// <summary>The machine's state at the end of a step, after all that was told in it.</summary>
    void StepDone(double time);
}
