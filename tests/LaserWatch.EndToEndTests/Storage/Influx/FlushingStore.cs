using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>An InfluxDB store of which every append waits until the server has it.</summary>
internal sealed class FlushingStore(InfluxTelemetryStore store) : ITelemetryStore
{
    public async ValueTask AppendAsync(StoreBatch batch, CancellationToken stop)
    {
        await store.AppendAsync(batch, stop);
        await store.FlushAsync(stop);
    }

    public IAsyncEnumerable<ReadOnlyMemory<Sample>> ReadSampleBlocksAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop) =>
        store.ReadSampleBlocksAsync(machine, channels, from, to, table, stop);

    public IAsyncEnumerable<RollUp> ReadRollUpsAsync(string machine, Channel channel, RollUpSpan span, Instant from, Instant to, CancellationToken stop) =>
        store.ReadRollUpsAsync(machine, channel, span, from, to, stop);

    public ValueTask<IReadOnlyList<string>> ReadMachinesAsync(CancellationToken stop) => store.ReadMachinesAsync(stop);

    public ValueTask<IReadOnlyList<Channel>> ReadChannelsAsync(string machine, ChannelTable table, CancellationToken stop) =>
        store.ReadChannelsAsync(machine, table, stop);

    public ValueTask<SampleExtent?> ReadExtentAsync(string machine, CancellationToken stop) => store.ReadExtentAsync(machine, stop);

    public ValueTask<IgnoredSamples> ReadIgnoredAsync(string machine, CancellationToken stop) => store.ReadIgnoredAsync(machine, stop);

    public ValueTask<IReadOnlyList<JobRecord>> ReadJobRecordsAsync(CancellationToken stop) => store.ReadJobRecordsAsync(stop);

    public ValueTask<IReadOnlyList<JobEvent>> ReadJobRunsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        store.ReadJobRunsAsync(machine, from, to, stop);

    public ValueTask<IReadOnlyList<ServiceEvent>> ReadServiceEventsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        store.ReadServiceEventsAsync(machine, from, to, stop);

    public ValueTask<IReadOnlyList<AlarmChange>> ReadAlarmChangesAsync(string? machine, Instant from, Instant to, CancellationToken stop) =>
        store.ReadAlarmChangesAsync(machine, from, to, stop);

    public ValueTask<IReadOnlyList<Gap>> ReadGapsAsync(string machine, Instant from, Instant to, CancellationToken stop) => store.ReadGapsAsync(machine, from, to, stop);

    public ValueTask<byte[]?> ReadWatchStateAsync(string machine, CancellationToken stop) => store.ReadWatchStateAsync(machine, stop);

    public ValueTask<bool> WasDeliveredAsync(PacketDelivery delivery, CancellationToken stop) => store.WasDeliveredAsync(delivery, stop);

    public ValueTask<Maintenance> MaintainAsync(Instant now, CancellationToken stop) => store.MaintainAsync(now, stop);

    public ValueTask DisposeAsync() => store.DisposeAsync();
}
