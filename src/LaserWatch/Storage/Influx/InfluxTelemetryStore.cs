using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Recordings;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Storage.Influx;

/// <summary>InfluxDB as the store, with a side file for what only the agent needs and for what the server has not taken yet.</summary>
/// <remarks>
/// <see cref="AppendAsync"/> returns once the batch is in the side file; a background task sends it on. Reading asks the server and
/// adds what waits, so that what was appended is seen at once; it fails while the server is away. Otherwise than in the embedded
/// store, of two samples of one channel and time the last stands and none is counted as ignored; samples and events are deleted by the
/// bucket's retention, and their roll-ups with them; line breaks in texts become spaces. Safe for several threads.
/// </remarks>
public sealed class InfluxTelemetryStore : ITelemetryStore
{
    private readonly string _path;
    private readonly InfluxConnection _server;
    private readonly SideReader _side;
    private readonly SampleReading _samples;
    private readonly EventReading _events;
    private readonly RollUpReading _rollUps;
    private readonly ExtentReading _extents;
    private readonly InfluxWriting? _writing;
    private readonly Lock _knowing = new();
    private (SqliteConnection Connection, Statement WasDelivered)? _deliveries;
    private bool _disposed;

    private InfluxTelemetryStore(StoreOptions options, ILogger logger, Func<InfluxConnection, SideReader, InfluxWriting>? writing)
    {
        _server = new InfluxConnection(options.Influx ?? throw new ArgumentException("There is no store.influx.", nameof(options)));
        _path = options.Path;
        _side = new SideReader(options.Path, options.BusySeconds);
        var reader = new ServerReader(_server);
        _samples = new SampleReading(reader, _side);
        _events = new EventReading(reader, _side, logger);
        _rollUps = new RollUpReading(reader, _side, _samples);
        _extents = new ExtentReading(reader, _side, _samples);
        try
        {
            _writing = writing?.Invoke(_server, _side);
            _side.Open().Dispose(); // so that what is wrong is said now
        }
        catch
        {
            _server.Dispose();
            throw;
        }
    }

    /// <summary>Opens the store for reading and writing; the side file is made where it is missing. The server need not be there.</summary>
    /// <param name="timeToFlush">How long its closing may take to send what waits. The rest stays in the spool for the next start.</param>
    /// <exception cref="StoreException">The side file cannot be opened: the message says why, and the mend.</exception>
    public static InfluxTelemetryStore Open(StoreOptions options, TimeSpan timeToFlush, TimeProvider time, ILogger logger) =>
        new(options, logger, (server, side) => new InfluxWriting(options, server, side, timeToFlush, time, logger));

    /// <summary>Opens the store for reading, while this or another process may write to it.</summary>
    /// <exception cref="StoreException">The side file cannot be read: the message says why, and the mend.</exception>
    public static InfluxTelemetryStore OpenForReading(StoreOptions options, ILogger logger) =>
        new(options, logger, writing: null);

    public bool HoldsTraining => Sqlite.TrainingMark.IsOn(_path);

    /// <summary>True while the server takes nothing.</summary>
    public bool IsServerFailing => _writing?.IsFailing ?? false;

    /// <exception cref="StoreException">The spool is full, and the server takes nothing: nothing of the batch was kept.</exception>
    public async ValueTask AppendAsync(StoreBatch batch, CancellationToken stop)
    {
        ArgumentNullException.ThrowIfNull(batch);
        var writing = WritingHalf();
        foreach (var (machine, sample) in batch.Samples)
        {
            if (!double.IsFinite(sample.Value))
                throw new ArgumentException($"A sample of {machine} {sample.Channel} at {sample.At} is not finite.", nameof(batch));
        }

        if (!batch.IsEmpty)
            await writing.AppendAsync(batch, stop);
    }

    /// <summary>Returns once the server has all that was appended.</summary>
    /// <exception cref="StoreException">The server does not take it; it stays in the spool.</exception>
    public async Task FlushAsync(CancellationToken stop)
    {
        try
        {
            await WritingHalf().FlushAsync(stop);
        }
        catch (InfluxFaultException fault)
        {
            throw new StoreException($"InfluxDB {_server.Where} cannot be written: {fault.Message}", fault);
        }
    }

    /// <summary>Tries whether the server can be read and written as the agent will; nothing is written.</summary>
    /// <exception cref="StoreException">It cannot: the message says why, and the mend.</exception>
    public static async Task CheckServerAsync(InfluxOptions options, CancellationToken stop)
    {
        using var server = new InfluxConnection(options);
        await server.CheckAsync(stop);
    }

    /// <summary>What waits in the spool, and what was refused.</summary>
    public (long Bytes, long Lines, long Refused) ReadWaiting() => _side.Waiting();

    public IAsyncEnumerable<ReadOnlyMemory<Sample>> ReadSampleBlocksAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop)
    {
        var (first, last) = InfluxQl.Bounds(from, to);
        return _samples.ReadAsync(machine, channels, first, last, table, stop);
    }

    public IAsyncEnumerable<RollUp> ReadRollUpsAsync(
        string machine, Channel channel, RollUpSpan span, Instant from, Instant to, CancellationToken stop) =>
        _rollUps.ReadAsync(machine, channel, span, from, to, stop);

    public async ValueTask<IReadOnlyList<string>> ReadMachinesAsync(CancellationToken stop)
    {
        var machines = new SortedSet<string>(_side.ReadMachines(), StringComparer.Ordinal);
        var measurements = InfluxQl.Names([EventLines.Telemetry, EventLines.JobRunName, EventLines.ServiceName, EventLines.AlarmName]);
        foreach (var table in await _server.QueryAsync($"SHOW TAG VALUES FROM {measurements} WITH KEY = \"machine\"", stop))
        {
            for (var row = 0; row < table.Rows; row++)
            {
                if (table.Row(row)[^1].Text is { } machine)
                    machines.Add(machine);
            }
        }

        return [.. machines];
    }

    public async ValueTask<IReadOnlyList<Channel>> ReadChannelsAsync(string machine, ChannelTable table, CancellationToken stop)
    {
        const string Prefix = "last_";
        var units = _side.ReadUnits(machine);
        var names = new SampleReading.Names(table, units);
        var channels = units.Keys.Select(names.Find).ToHashSet();
        var statement = $"SELECT last(*) FROM {InfluxQl.Name(EventLines.Telemetry)} WHERE \"machine\" = {InfluxQl.Text(machine)}";
        foreach (var newest in await _server.QueryAsync(statement, stop))
        {
            for (var place = 0; place < newest.Columns.Count; place++)
            {
                if (newest.Row(0)[place].Kind != CellKind.Nothing && newest.Columns[place].StartsWith(Prefix, StringComparison.Ordinal)
                    && newest.Columns[place][Prefix.Length..] is var name && ChannelTable.IsValidName(name))
                    channels.Add(names.Find(name));
            }
        }

        return [.. channels.OrderBy(channel => channel.Index)];
    }

    public async ValueTask<SampleExtent?> ReadExtentAsync(string machine, CancellationToken stop) => await _extents.ReadAsync(machine, stop);

    /// <summary>Always none: the server replaces without telling.</summary>
    public ValueTask<IgnoredSamples> ReadIgnoredAsync(string machine, CancellationToken stop) => ValueTask.FromResult(default(IgnoredSamples));

    public async ValueTask<IReadOnlyList<JobRecord>> ReadJobRecordsAsync(CancellationToken stop)
    {
        var records = await _events.ReadAsync<JobRecord>(
            EventLines.JobRecordName, null, Instant.MinValue, Instant.MaxValue, EventLines.TryRead, record => record.RecordedAt,
            (record, at) => record with { RecordedAt = at }, stop);
        return [.. records.OrderBy(record => record.Job, StringComparer.Ordinal).ThenBy(record => record.RecordedAt)];
    }

    public async ValueTask<IReadOnlyList<JobEvent>> ReadJobRunsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        await _events.ReadAsync<JobEvent>(
            EventLines.JobRunName, machine, from, to, EventLines.TryRead, run => run.At, (run, at) => run with { At = at }, stop);

    public async ValueTask<IReadOnlyList<ServiceEvent>> ReadServiceEventsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        await _events.ReadAsync<ServiceEvent>(
            EventLines.ServiceName, machine, from, to, EventLines.TryRead, service => service.At, (service, at) => service with { At = at }, stop);

    public async ValueTask<IReadOnlyList<AlarmChange>> ReadAlarmChangesAsync(string? machine, Instant from, Instant to, CancellationToken stop) =>
        await _events.ReadAsync<AlarmChange>(
            EventLines.AlarmName, machine, from, to, EventLines.TryRead, change => change.Time, (change, at) => change with { Time = at }, stop);

    public ValueTask<IReadOnlyList<Gap>> ReadGapsAsync(string machine, Instant from, Instant to, CancellationToken stop)
    {
        stop.ThrowIfCancellationRequested();
        return ValueTask.FromResult(_side.ReadGaps(machine, from, to));
    }

    public ValueTask<byte[]?> ReadWatchStateAsync(string machine, CancellationToken stop)
    {
        stop.ThrowIfCancellationRequested();
        return ValueTask.FromResult(_side.ReadWatchState(machine));
    }

    public ValueTask<bool> WasDeliveredAsync(PacketDelivery delivery, CancellationToken stop)
    {
        stop.ThrowIfCancellationRequested();
        lock (_knowing)
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            var (_, known) = _deliveries ??= _side.OpenDeliveries();
            return ValueTask.FromResult(known.Bind(1, delivery.Session).Bind(2, delivery.PacketId)
                .Bind(3, unchecked((long)delivery.ContentHash)).RunForInt64() is not null);
        }
    }

    /// <remarks>Only the side file: what is at the server is deleted by the bucket's retention.</remarks>
    public async ValueTask<Maintenance> MaintainAsync(Instant now, CancellationToken stop) => await WritingHalf().MaintainAsync(now, stop);

    /// <summary>Sends what waits as far as the time goes; the rest stays in the spool for the next start.</summary>
    public async ValueTask DisposeAsync()
    {
        lock (_knowing)
        {
            if (_disposed)
                return;
            _disposed = true;
            _deliveries?.WasDelivered.Dispose();
            _deliveries?.Connection.Dispose();
        }

        if (_writing is not null)
            await _writing.DisposeAsync();
        _server.Dispose();
    }

    private InfluxWriting WritingHalf() => _writing ?? throw new InvalidOperationException("This store was opened for reading.");
}
