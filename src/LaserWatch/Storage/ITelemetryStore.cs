using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

/// <summary>Keeps samples, events and alarms, and gives them back by machine and time.</summary>
/// <remarks>
/// One writer at a time; readers, also in other processes, at any time. What <see cref="AppendAsync"/> has returned from
/// survives the death of the process. Bounds: <c>from</c> is included, <c>to</c> is not.
/// </remarks>
public interface ITelemetryStore : IAsyncDisposable
{
    /// <summary>Keeps the whole batch, or (on an exception) nothing of it. A sample met before (same machine, channel and time) is kept once.</summary>
    ValueTask AppendAsync(StoreBatch batch, CancellationToken stop);

    /// <summary>A machine's samples in time order; all channels where none are named.</summary>
    IAsyncEnumerable<Sample> ReadSamplesAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop);

    /// <summary>Summaries by minute or hour, in time order; they outlive the samples.</summary>
    IAsyncEnumerable<RollUp> ReadRollUpsAsync(
        string machine, Channel channel, RollUpSpan span, Instant from, Instant to, CancellationToken stop);

    ValueTask<IReadOnlyList<string>> ReadMachinesAsync(CancellationToken stop);

    /// <summary>First and last sample time of a machine and the number of samples held; null where it has none.</summary>
    ValueTask<SampleExtent?> ReadExtentAsync(string machine, CancellationToken stop);

    ValueTask<IReadOnlyList<JobRecord>> ReadJobRecordsAsync(CancellationToken stop);

    ValueTask<IReadOnlyList<JobEvent>> ReadJobRunsAsync(string machine, Instant from, Instant to, CancellationToken stop);

    ValueTask<IReadOnlyList<ServiceEvent>> ReadServiceEventsAsync(string machine, Instant from, Instant to, CancellationToken stop);

    /// <summary>Alarm transitions in time order; of all machines where <paramref name="machine"/> is null.</summary>
    ValueTask<IReadOnlyList<AlarmChange>> ReadAlarmChangesAsync(string? machine, Instant from, Instant to, CancellationToken stop);

    ValueTask<IReadOnlyList<Gap>> ReadGapsAsync(string machine, Instant from, Instant to, CancellationToken stop);

    /// <summary>The newest saved state of a machine's watch; null where there is none.</summary>
    ValueTask<byte[]?> ReadWatchStateAsync(string machine, CancellationToken stop);

    /// <summary>True where this very delivery was kept before: the broker sends it again because our acknowledgement was lost.</summary>
    ValueTask<bool> WasDeliveredAsync(Delivery delivery, CancellationToken stop);
}

/// <summary>What is written together. Reused by its owner: a store must not hold on to it after <see cref="ITelemetryStore.AppendAsync"/>.</summary>
public sealed class StoreBatch
{
    public List<(string Machine, Sample Sample)> Samples { get; } = [];

    public List<JobRecord> JobRecords { get; } = [];

    public List<JobEvent> JobRuns { get; } = [];

    public List<ServiceEvent> ServiceEvents { get; } = [];

    public List<AlarmChange> AlarmChanges { get; } = [];

    public List<Gap> Gaps { get; } = [];

    /// <summary>The newest state of a machine's watch; replaces the one before.</summary>
    public List<(string Machine, byte[] State)> WatchStates { get; } = [];

    /// <summary>The MQTT deliveries whose content this batch holds.</summary>
    public List<Delivery> Deliveries { get; } = [];

    public bool IsEmpty =>
        Samples.Count == 0 && JobRecords.Count == 0 && JobRuns.Count == 0 && ServiceEvents.Count == 0 && AlarmChanges.Count == 0
        && Gaps.Count == 0 && WatchStates.Count == 0 && Deliveries.Count == 0;

    public void Clear()
    {
        Samples.Clear();
        JobRecords.Clear();
        JobRuns.Clear();
        ServiceEvents.Clear();
        AlarmChanges.Clear();
        Gaps.Clear();
        WatchStates.Clear();
        Deliveries.Clear();
    }
}

/// <summary>Time we know we lack.</summary>
/// <param name="Lost">Samples known to be lost; 0 where only the time is known.</param>
public sealed record Gap(string Machine, Instant From, Instant To, string Reason, long Lost);

/// <summary>A QoS 1 delivery, as far as it can be known again: the packet identifier, and a hash of topic and payload.</summary>
/// <remarks>
/// A broker that did not get our acknowledgement sends the message again with the duplicate flag and the same identifier.
/// Bare numbers carry no time, so nothing else tells the second copy from a new sample.
/// </remarks>
public readonly record struct Delivery(string Session, ushort PacketId, ulong ContentHash);

public enum RollUpSpan
{
    Minute,
    Hour,
}

/// <summary>A channel's samples of one minute or hour.</summary>
public readonly record struct RollUp(Instant Start, long Count, double Min, double Mean, double Max);

public readonly record struct SampleExtent(Instant First, Instant Last, long Count);
