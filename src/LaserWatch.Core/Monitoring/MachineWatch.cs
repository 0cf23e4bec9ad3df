using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>One machine: everything known of it, and the rules that judge it.</summary>
/// <remarks>
/// Pure: fed samples, events and ticks, it answers with alarm changes; time is theirs. The live agent, a replay and the tests
/// run the same code. Not safe for several threads. Lists it returns are the caller's to keep.
/// </remarks>
public sealed class MachineWatch(string machine, MonitorOptions options, JobBook jobs)
{
    private static readonly IReadOnlyList<AlarmChange> Nothing = [];

    public string Machine { get; } = machine;

    internal MonitorOptions Options { get; } = options;

    internal JobBook Jobs { get; } = jobs;

    /// <summary>Takes values that share one instant. In time order, or late by up to 5 s; later ones are counted, not judged.</summary>
    public IReadOnlyList<AlarmChange> Observe(Instant at, ReadOnlySpan<ChannelValue> values) => Nothing;

    public IReadOnlyList<AlarmChange> Observe(JobEvent change) => Nothing;

    public IReadOnlyList<AlarmChange> Observe(ServiceEvent service) => Nothing;

    public IReadOnlyList<AlarmChange> Observe(AlarmCommand command) => Nothing;

    /// <summary>Tells the watch that time has passed; silence can be judged only so.</summary>
    public IReadOnlyList<AlarmChange> Tick(Instant now) => Nothing;

    /// <summary>Runs that began or ended without a job event since the last call, for the store.</summary>
    public IReadOnlyList<JobEvent> TakeInferredRuns() => [];

    /// <summary>All state, as UTF-8 JSON: a watch restored from it goes on as if it had never stopped.</summary>
    public byte[] Save() => [];

    /// <summary>Takes up the state of <see cref="Save"/>. False where it is of another version: then the watch starts anew.</summary>
    public bool TryRestore(ReadOnlySpan<byte> state) => false;

    /// <summary>The newest sample time seen; null before the first.</summary>
    public Instant? Newest => null;

    /// <summary>The alarms that are not normal, newest state each.</summary>
    public IReadOnlyList<AlarmChange> Standing => Nothing;

    /// <summary>What each rule sees and lacks, the last value and time of each channel, counts of what was not judged.</summary>
    public MachineStatus Status => new(Machine, null, null, [], [], new Dictionary<string, long>());
}
