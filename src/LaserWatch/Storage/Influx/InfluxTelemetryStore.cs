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
    private readonly StoreOptions _options;
    private readonly InfluxOptions _influx;
    private readonly InfluxConnection _server;
    private readonly SideReader _side;
    private readonly SampleReading _samples;
    private readonly EventReading _events;
    private readonly RollUpReading _rollUps;
    private readonly ExtentReading _extents;
    private readonly ServerReader _reader;
    private readonly ILogger _logger;
    private readonly TimeProvider _time;
    private readonly TimeSpan _timeToFlush;
    private readonly SemaphoreSlim _writing = new(1);
    private readonly Lock _knowing = new();
    private readonly SqliteConnection? _connection;
    private readonly SideWriter? _writer;
    private readonly SpoolSender? _sender;
    private (SqliteConnection Connection, Statement WasDelivered)? _deliveries;
    private bool _disposed;

    private InfluxTelemetryStore(StoreOptions options, bool write, TimeSpan timeToFlush, TimeProvider time, ILogger logger)
    {
        _options = options;
        _influx = options.Influx ?? throw new ArgumentException("There is no store.influx.", nameof(options));
        _time = time;
        _timeToFlush = timeToFlush;
        _logger = logger;
        _server = new InfluxConnection(_influx);
        _side = new SideReader(options.Path, options.BusySeconds);
        _reader = new ServerReader(_server);
        _samples = new SampleReading(_reader, _side);
        _events = new EventReading(_reader, _side, logger);
        _rollUps = new RollUpReading(_reader, _side, _samples);
        _extents = new ExtentReading(_reader, _side, _samples);
        try
        {
            if (write)
            {
                _connection = SideFile.OpenForWriting(options.Path, options.BusySeconds);
                _writer = new SideWriter(_connection, options.SyncEveryBatch);
                _sender = new SpoolSender(
                    new Spool(_writer), _writing, _server, _influx, options.Path, new Random(Environment.ProcessId), time, logger);
            }
            else
            {
                _side.Open().Dispose(); // so that what is wrong is said now
            }
        }
        catch
        {
            _writer?.Dispose();
            _connection?.Dispose();
            _server.Dispose();
            throw;
        }
    }

    /// <summary>Opens the store for reading and writing; the side file is made where it is missing. The server need not be there.</summary>
    /// <param name="timeToFlush">How long its closing may take to send what waits. The rest stays in the spool for the next start.</param>
    /// <exception cref="StoreException">The side file cannot be opened: the message says why, and the mend.</exception>
    public static InfluxTelemetryStore Open(StoreOptions options, TimeSpan timeToFlush, TimeProvider time, ILogger logger) =>
        new(options, write: true, timeToFlush, time, logger);

    /// <summary>Opens the store for reading, while this or another process may write to it.</summary>
    /// <exception cref="StoreException">The side file cannot be read: the message says why, and the mend.</exception>
    public static InfluxTelemetryStore OpenForReading(StoreOptions options, ILogger logger) =>
        new(options, write: false, TimeSpan.Zero, TimeProvider.System, logger);

    /// <summary>True while the server takes nothing.</summary>
    public bool IsServerFailing => _sender?.IsFailing ?? false;

    /// <exception cref="StoreException">The spool is full: nothing of the batch was kept.</exception>
    public async ValueTask AppendAsync(StoreBatch batch, CancellationToken stop)
    {
        ArgumentNullException.ThrowIfNull(batch);
        var writer = _writer ?? throw new InvalidOperationException("This store was opened for reading.");
        foreach (var (machine, sample) in batch.Samples)
        {
            if (!double.IsFinite(sample.Value))
                throw new ArgumentException($"A sample of {machine} {sample.Channel} at {sample.At} is not finite.", nameof(batch));
        }

        if (batch.IsEmpty)
            return;
        int? lines;
        while ((lines = await TryAppendAsync(writer, batch, stop)) is null)
            await MakeRoomAsync(stop);
        _sender!.Appended(lines.Value);
    }

    /// <summary>Returns once the server has all that was appended.</summary>
    /// <exception cref="StoreException">The server does not take it; it stays in the spool.</exception>
    public async Task FlushAsync(CancellationToken stop)
    {
        try
        {
            await (_sender ?? throw new InvalidOperationException("This store was opened for reading.")).FlushAsync(stop);
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

    public ValueTask<bool> WasDeliveredAsync(Delivery delivery, CancellationToken stop)
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
    public async ValueTask<Maintenance> MaintainAsync(Instant now, CancellationToken stop)
    {
        if (_writer is not { } writer)
            throw new InvalidOperationException("This store was opened for reading.");
        await _writing.WaitAsync(stop);
        try
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            using var deleteGaps = new Statement(_connection!, "DELETE FROM gap WHERE to_ts < ?1");
            // A point that was moved has its true time here only, for as long as the server may have it.
            using var deleteTimes = new Statement(_connection!, "DELETE FROM event_time WHERE ts < ?1 AND moved = 0");
            var days = Math.Max(_options.KeepAlarmsDays, Math.Max(_options.KeepJobRunsDays, _options.KeepServiceDays));
            var gaps = 0;
            writer.InTransaction(() =>
            {
                gaps = deleteGaps.Bind(1, (now - TimeSpan.FromDays(_options.KeepGapsDays)).UnixNanoseconds).Run();
                deleteTimes.Bind(1, (now - TimeSpan.FromDays(days)).UnixNanoseconds).Run();
                writer.TrimDeliveries();
            });
            return new Maintenance(0, 0, gaps);
        }
        finally
        {
            _writing.Release();
        }
    }

    /// <summary>Sends what waits as far as the time goes; the rest stays in the spool for the next start.</summary>
    public async ValueTask DisposeAsync()
    {
        if (_disposed)
            return;
        if (_sender is not null)
        {
            await FlushBeforeEndAsync(_sender);
            await _sender.DisposeAsync();
        }

        await _writing.WaitAsync();
        _disposed = true;
        lock (_knowing)
        {
            _deliveries?.WasDelivered.Dispose();
            _deliveries?.Connection.Dispose();
        }

        _writer?.Dispose();
        _connection?.Dispose();
        _server.Dispose();
        _writing.Release();
    }

    /// <summary>The number of lines; null where the spool is full.</summary>
    private async ValueTask<int?> TryAppendAsync(SideWriter writer, StoreBatch batch, CancellationToken stop)
    {
        await _writing.WaitAsync(stop);
        try
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            return writer.Append(batch, _influx.SpoolMegabytes * 1_000_000L);
        }
        catch (SpoolFullException)
        {
            return null;
        }
        finally
        {
            _writing.Release();
        }
    }

    /// <summary>A server that is only slower than we are is waited for; one that takes nothing is the caller's affair.</summary>
    private async Task MakeRoomAsync(CancellationToken stop)
    {
        var why = "more than that at once, or lines that were refused; see the log";
        try
        {
            if (await _sender!.SendSomeAsync(stop) > 0)
                return;
        }
        catch (InfluxFaultException fault)
        {
            why = fault.Message;
        }

        throw new StoreException(
            $"The spool {_options.Path} is full, {_influx.SpoolMegabytes} MB wait for InfluxDB {_server.Where}: {why}. Or raise store.influx.spoolMegabytes.");
    }

    private async Task FlushBeforeEndAsync(SpoolSender sender)
    {
        using var deadline = new CancellationTokenSource(_timeToFlush, _time);
        try
        {
            if (!sender.IsFailing)
                await sender.FlushAsync(deadline.Token);
        }
        catch (Exception fault) when (fault is InfluxFaultException or SqliteException or OperationCanceledException)
        {
            // It is in the spool; the message below says so.
        }

        if (_side.Waiting() is { Lines: > 0 } waiting)
            _logger.InfluxStoppedWithLines(waiting.Lines, _options.Path);
    }
}
