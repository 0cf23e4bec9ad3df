using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>Takes every batch and forgets it: what is left of the cost when the disk is left out.</summary>
internal sealed class NothingKept : ITelemetryStore
{
    public ValueTask AppendAsync(StoreBatch batch, CancellationToken stop) => ValueTask.CompletedTask;

    public IAsyncEnumerable<ReadOnlyMemory<Sample>> ReadSampleBlocksAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop) => throw Unread();

    public IAsyncEnumerable<RollUp> ReadRollUpsAsync(string machine, Channel channel, RollUpSpan span, Instant from, Instant to, CancellationToken stop) => throw Unread();

    public ValueTask<IReadOnlyList<string>> ReadMachinesAsync(CancellationToken stop) => throw Unread();

    public ValueTask<IReadOnlyList<Channel>> ReadChannelsAsync(string machine, ChannelTable table, CancellationToken stop) => throw Unread();

    public ValueTask<SampleExtent?> ReadExtentAsync(string machine, CancellationToken stop) => throw Unread();

    public ValueTask<IgnoredSamples> ReadIgnoredAsync(string machine, CancellationToken stop) => throw Unread();

    public ValueTask<IReadOnlyList<JobRecord>> ReadJobRecordsAsync(CancellationToken stop) => throw Unread();

    public ValueTask<IReadOnlyList<JobEvent>> ReadJobRunsAsync(string machine, Instant from, Instant to, CancellationToken stop) => throw Unread();

    public ValueTask<IReadOnlyList<ServiceEvent>> ReadServiceEventsAsync(string machine, Instant from, Instant to, CancellationToken stop) => throw Unread();

    public ValueTask<IReadOnlyList<AlarmChange>> ReadAlarmChangesAsync(string? machine, Instant from, Instant to, CancellationToken stop) => throw Unread();

    public ValueTask<IReadOnlyList<Gap>> ReadGapsAsync(string machine, Instant from, Instant to, CancellationToken stop) => throw Unread();

    public ValueTask<byte[]?> ReadWatchStateAsync(string machine, CancellationToken stop) => throw Unread();

    public ValueTask<bool> WasDeliveredAsync(PacketDelivery delivery, CancellationToken stop) => throw Unread();

    public ValueTask<Maintenance> MaintainAsync(Instant now, CancellationToken stop) => throw Unread();

    public ValueTask DisposeAsync() => ValueTask.CompletedTask;

    private static NotSupportedException Unread() => new("Nothing was kept.");
}
