using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>What a simulated machine tells at one instant: services and job events first, then samples. Reused: good until the next.</summary>
public sealed class SimulatedMoment
{
    public Instant At { get; internal set; }

    public List<ServiceEvent> Services { get; } = [];

    public List<JobEvent> Jobs { get; } = [];

    public List<ChannelValue> Values { get; } = [];

    internal bool IsEmpty => Services.Count == 0 && Jobs.Count == 0 && Values.Count == 0;

    internal void Clear()
    {
        Services.Clear();
        Jobs.Clear();
        Values.Clear();
    }
}
