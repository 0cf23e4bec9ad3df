using System.Runtime.CompilerServices;
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
    /// <summary>What is in it was played for training, and is of no real machine.</summary>
    bool HoldsTraining => false;

    /// <summary>Keeps the whole batch, or (on an exception) nothing of it.</summary>
    /// <remarks>
    /// Of samples with one machine, channel and time the first is kept, the others are counted (<see cref="ReadIgnoredAsync"/>).
    /// Of job records with one job and time the last is kept. Events, alarms and gaps are all kept.
    /// </remarks>
    /// <exception cref="ArgumentException">A sample is not finite.</exception>
    ValueTask AppendAsync(StoreBatch batch, CancellationToken stop);

    /// <summary>A machine's samples in time order, at equal times by <see cref="Channel.Index"/>; all channels where none are named.</summary>
    /// <returns>Blocks of one sample or more. A block is good until the next is asked for: its memory is used again.</returns>
    IAsyncEnumerable<ReadOnlyMemory<Sample>> ReadSampleBlocksAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop);

    /// <summary>The same samples in the same order, as moments where the store has them together: for who walks through years.</summary>
    /// <returns>Stretches of one sample or more, each good until the next is asked for.</returns>
    async IAsyncEnumerable<SampleStretch> ReadStretchesAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, [EnumeratorCancellation] CancellationToken stop)
    {
        await foreach (var block in ReadSampleBlocksAsync(machine, channels, from, to, table, stop).ConfigureAwait(false))
            yield return new SampleStretch(block);
    }

    /// <summary>Summaries of the minutes or hours that begin within the bounds, in time order; they outlive the samples.</summary>
    IAsyncEnumerable<RollUp> ReadRollUpsAsync(
        string machine, Channel channel, RollUpSpan span, Instant from, Instant to, CancellationToken stop);

    /// <summary>The same of several channels of a machine, one after the other.</summary>
    async IAsyncEnumerable<(Channel Channel, RollUp RollUp)> ReadRollUpsAsync(
        string machine, IReadOnlyList<Channel> channels, RollUpSpan span, Instant from, Instant to, [EnumeratorCancellation] CancellationToken stop)
    {
        foreach (var channel in channels)
        {
            await foreach (var rollUp in ReadRollUpsAsync(machine, channel, span, from, to, stop).ConfigureAwait(false))
                yield return (channel, rollUp);
        }
    }

    /// <summary>Every machine of which there is a sample, roll-up, event or alarm, by name.</summary>
    ValueTask<IReadOnlyList<string>> ReadMachinesAsync(CancellationToken stop);

    /// <summary>The channels of which there ever was a sample of the machine, by <see cref="Channel.Index"/> of the table; others than canonical ones are added to it.</summary>
    ValueTask<IReadOnlyList<Channel>> ReadChannelsAsync(string machine, ChannelTable table, CancellationToken stop);

    /// <summary>First and last sample time of a machine and the number of samples held; null where it has none.</summary>
    ValueTask<SampleExtent?> ReadExtentAsync(string machine, CancellationToken stop);

    /// <summary>Samples of a machine that were not kept, since the store was made.</summary>
    ValueTask<IgnoredSamples> ReadIgnoredAsync(string machine, CancellationToken stop);

    ValueTask<IReadOnlyList<JobRecord>> ReadJobRecordsAsync(CancellationToken stop);

    ValueTask<IReadOnlyList<JobEvent>> ReadJobRunsAsync(string machine, Instant from, Instant to, CancellationToken stop);

    ValueTask<IReadOnlyList<ServiceEvent>> ReadServiceEventsAsync(string machine, Instant from, Instant to, CancellationToken stop);

    /// <summary>Alarm transitions in time order; of all machines where <paramref name="machine"/> is null.</summary>
    ValueTask<IReadOnlyList<AlarmChange>> ReadAlarmChangesAsync(string? machine, Instant from, Instant to, CancellationToken stop);

    /// <summary>Gaps that touch the bounds, by their begin.</summary>
    ValueTask<IReadOnlyList<Gap>> ReadGapsAsync(string machine, Instant from, Instant to, CancellationToken stop);

    /// <summary>The newest saved state of a machine's watch; null where there is none.</summary>
    ValueTask<byte[]?> ReadWatchStateAsync(string machine, CancellationToken stop);

    /// <summary>True where this very delivery was kept before: the broker sends it again because our acknowledgement was lost.</summary>
    /// <remarks>Known for the newest 4096 deliveries of a session: packet identifiers come round again after 65 535.</remarks>
    ValueTask<bool> WasDeliveredAsync(PacketDelivery delivery, CancellationToken stop);

    /// <summary>Seals what is over and deletes what is older than it is to be kept, samples by whole hours; to be called once a minute.</summary>
    /// <param name="now">The time of the newest data: nothing here depends on another clock.</param>
    /// <remarks>Works in small steps between which writes go on; stopped half-way, the next call takes up the rest.</remarks>
    ValueTask<Maintenance> MaintainAsync(Instant now, CancellationToken stop);
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
    public List<PacketDelivery> Deliveries { get; } = [];

    /// <summary>Items of all kinds together.</summary>
    public int Count =>
        Samples.Count + JobRecords.Count + JobRuns.Count + ServiceEvents.Count + AlarmChanges.Count + Gaps.Count
        + WatchStates.Count + Deliveries.Count;

    public bool IsEmpty => Count == 0;

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
public readonly record struct PacketDelivery(string Session, ushort PacketId, ulong ContentHash);

public enum RollUpSpan
{
    Minute,
    Hour,
}

/// <summary>A channel's samples of one minute or hour.</summary>
public readonly record struct RollUp(Instant Start, long Count, double Min, double Mean, double Max);

public readonly record struct SampleExtent(Instant First, Instant Last, long Count);

/// <param name="Duplicates">Met again with the same value: sent twice.</param>
/// <param name="Conflicts">Met again with another value: two sensors on one topic, or a clock set back.</param>
public readonly record struct IgnoredSamples(long Duplicates, long Conflicts);

/// <summary>What <see cref="ITelemetryStore.MaintainAsync"/> did.</summary>
/// <param name="PackedSamples">Samples that were sealed, which changes nothing in what is read.</param>
/// <param name="DeletedSamples">Samples deleted by age; they live on in the roll-ups.</param>
/// <param name="DeletedEvents">Alarm transitions, runs, service events and gaps deleted by age.</param>
public readonly record struct Maintenance(long PackedSamples, long DeletedSamples, long DeletedEvents);
