using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Fakes;

/// <summary>A store whose appends can be held up or made to fail. Safe for several threads.</summary>
public sealed class FaultyTelemetryStore : ITelemetryStore
{
    private readonly SemaphoreSlim _attempts = new(0);
    private TaskCompletionSource? _held;
    private Exception? _fault;

    public InMemoryTelemetryStore Kept { get; } = new();

    /// <summary>What every append throws from now on; null: it works.</summary>
    public Exception? Fault
    {
        get => Volatile.Read(ref _fault);
        set => Volatile.Write(ref _fault, value);
    }

    /// <summary>Items of each batch that was kept.</summary>
    public List<int> BatchSizes { get; } = [];

    /// <summary>Appends wait until <see cref="Release"/>.</summary>
    public void Hold() => _held = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);

    public void Release() => _held!.SetResult();

    /// <summary>Returns once one more append has been tried.</summary>
    public async Task AttemptAsync()
    {
        if (!await _attempts.WaitAsync(TimeSpan.FromSeconds(30)))
            throw new TimeoutException("No append was tried.");
    }

    public async ValueTask AppendAsync(StoreBatch batch, CancellationToken stop)
    {
        _attempts.Release();
        if (_held is { } held)
            await held.Task.WaitAsync(stop);
        if (Fault is { } fault)
            throw fault;
        await Kept.AppendAsync(batch, stop);
        lock (BatchSizes)
            BatchSizes.Add(batch.Count);
    }

    public IAsyncEnumerable<ReadOnlyMemory<Sample>> ReadSampleBlocksAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop) =>
        Kept.ReadSampleBlocksAsync(machine, channels, from, to, table, stop);

    public IAsyncEnumerable<RollUp> ReadRollUpsAsync(string machine, Channel channel, RollUpSpan span, Instant from, Instant to, CancellationToken stop) =>
        Kept.ReadRollUpsAsync(machine, channel, span, from, to, stop);

    public ValueTask<IReadOnlyList<string>> ReadMachinesAsync(CancellationToken stop) => Kept.ReadMachinesAsync(stop);

    public ValueTask<IReadOnlyList<Channel>> ReadChannelsAsync(string machine, ChannelTable table, CancellationToken stop) =>
        Kept.ReadChannelsAsync(machine, table, stop);

    public ValueTask<SampleExtent?> ReadExtentAsync(string machine, CancellationToken stop) => Kept.ReadExtentAsync(machine, stop);

    public ValueTask<IgnoredSamples> ReadIgnoredAsync(string machine, CancellationToken stop) => Kept.ReadIgnoredAsync(machine, stop);

    public ValueTask<IReadOnlyList<JobRecord>> ReadJobRecordsAsync(CancellationToken stop) => Kept.ReadJobRecordsAsync(stop);

    public ValueTask<IReadOnlyList<JobEvent>> ReadJobRunsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        Kept.ReadJobRunsAsync(machine, from, to, stop);

    public ValueTask<IReadOnlyList<ServiceEvent>> ReadServiceEventsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        Kept.ReadServiceEventsAsync(machine, from, to, stop);

    public ValueTask<IReadOnlyList<AlarmChange>> ReadAlarmChangesAsync(string? machine, Instant from, Instant to, CancellationToken stop) =>
        Kept.ReadAlarmChangesAsync(machine, from, to, stop);

    public ValueTask<IReadOnlyList<Gap>> ReadGapsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        Kept.ReadGapsAsync(machine, from, to, stop);

    public ValueTask<byte[]?> ReadWatchStateAsync(string machine, CancellationToken stop) => Kept.ReadWatchStateAsync(machine, stop);

    public ValueTask<bool> WasDeliveredAsync(PacketDelivery delivery, CancellationToken stop) => Kept.WasDeliveredAsync(delivery, stop);

    public ValueTask<Maintenance> MaintainAsync(Instant now, CancellationToken stop) => Kept.MaintainAsync(now, stop);

    public ValueTask DisposeAsync()
    {
        _attempts.Dispose();
        return Kept.DisposeAsync();
    }
}
