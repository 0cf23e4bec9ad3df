using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The embedded store: one SQLite file in WAL mode.</summary>
/// <remarks>
/// Safe for several threads. SQLite works synchronously: the tasks are done, or have failed, when they are handed out, but for the
/// wait for another writer. One connection writes; every read has a connection of its own, so that none waits for a write.
/// −0 comes back as 0.
/// </remarks>
public sealed class SqliteTelemetryStore : ITelemetryStore
{
    /// <summary>How long after its end an hour is sealed: by then its samples have come, but for those of a sensor that was cut off.</summary>
    private static readonly TimeSpan LateMargin = TimeSpan.FromMinutes(10);

    private readonly string _path;
    private readonly StoreOptions _options;
    private readonly SqliteConnection? _connection;
    private readonly BatchWriter? _writer;
    private readonly Upkeep? _upkeep;
    private readonly Sealing? _sealing;
    private readonly SemaphoreSlim _writing = new(1);
    private readonly Lock _knowing = new();
    private SqliteConnection? _deliveries;
    private Statement? _wasDelivered;
    private long? _sealedBefore;
    private bool _disposed;

    private SqliteTelemetryStore(StoreOptions options, bool write)
    {
        _options = options;
        _path = options.Path;
        if (!write)
            return;
        _connection = StoreFile.OpenForWriting(_path, options.BusySeconds);
        _writer = new BatchWriter(_connection, options.SyncEveryBatch);
        _upkeep = new Upkeep(_connection);
        _sealing = new Sealing(_connection);
    }

    /// <summary>Opens the store for reading and writing; makes it where it is missing.</summary>
    /// <exception cref="StoreException">It cannot be opened: the message says why, and the mend.</exception>
    public static SqliteTelemetryStore Open(StoreOptions options) => new(options, write: true);

    /// <summary>Opens the store for reading, while this or another process may write to it.</summary>
    /// <exception cref="StoreException">It cannot be read: the message says why, and the mend.</exception>
    public static SqliteTelemetryStore OpenForReading(string path)
    {
        var store = new SqliteTelemetryStore(new StoreOptions { Path = path }, write: false);
        store.OpenReader().Dispose(); // so that what is wrong is said now
        return store;
    }

    public bool HoldsTraining => TrainingMark.IsOn(_path);

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
        await _writing.WaitAsync(stop);
        try
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            writer.Append(batch);
        }
        finally
        {
            _writing.Release();
        }
    }

    public IAsyncEnumerable<ReadOnlyMemory<Sample>> ReadSampleBlocksAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop) =>
        ReadBlocks(machine, channels, from, to, table, stop).ToAsyncEnumerable();

    public IAsyncEnumerable<SampleStretch> ReadStretchesAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop) =>
        ReadStretches(machine, channels, from, to, table, stop).ToAsyncEnumerable();

    public IAsyncEnumerable<RollUp> ReadRollUpsAsync(
        string machine, Channel channel, RollUpSpan span, Instant from, Instant to, CancellationToken stop) =>
        ReadRollUps(machine, [channel], span, from, to, stop).Select(entry => entry.RollUp).ToAsyncEnumerable();

    public IAsyncEnumerable<(Channel Channel, RollUp RollUp)> ReadRollUpsAsync(
        string machine, IReadOnlyList<Channel> channels, RollUpSpan span, Instant from, Instant to, CancellationToken stop) =>
        ReadRollUps(machine, channels, span, from, to, stop).ToAsyncEnumerable();

    public ValueTask<IReadOnlyList<string>> ReadMachinesAsync(CancellationToken stop) =>
        Query("""
            SELECT machine FROM series UNION SELECT machine FROM job_run UNION SELECT machine FROM service_event
            UNION SELECT machine FROM alarm_change ORDER BY machine
            """,
            row => row.Text(0), _ => { }, stop);

    public async ValueTask<IReadOnlyList<Channel>> ReadChannelsAsync(string machine, ChannelTable table, CancellationToken stop)
    {
        var channels = await Query(
            "SELECT channel, unit FROM series WHERE machine = ?1 ORDER BY id",
            row => FindChannel(table, row.Text(0), row.Text(1)), query => query.Bind(1, machine), stop);
        return [.. channels.OrderBy(channel => channel.Index)];
    }

    public ValueTask<SampleExtent?> ReadExtentAsync(string machine, CancellationToken stop)
    {
        stop.ThrowIfCancellationRequested();
        using var connection = OpenReader();
        Schema.Execute(connection, "BEGIN"); // all below sees one state of the file
        using var extent = new ExtentQuery(connection);
        return ValueTask.FromResult(extent.Read(machine, stop));
    }

    public async ValueTask<IgnoredSamples> ReadIgnoredAsync(string machine, CancellationToken stop) =>
        (await Query(
            "SELECT ifnull(sum(duplicates), 0), ifnull(sum(conflicts), 0) FROM series WHERE machine = ?1",
            row => new IgnoredSamples(row.Int64(0), row.Int64(1)), query => query.Bind(1, machine), stop))[0];

    public ValueTask<IReadOnlyList<JobRecord>> ReadJobRecordsAsync(CancellationToken stop) =>
        Query("""
            SELECT job, ts, material, power_percent, speed_mm_s, air_pressure_kpa, tube_current_ma, mode, air_pressure_tolerance
            FROM job_record ORDER BY job, ts
            """,
            row => new JobRecord(
                row.Text(0), new Instant(row.Int64(1)), row.TextOrNull(2),
                row.DoubleOrNull(3) is { } power ? new PowerPercent(power) : null, row.DoubleOrNull(4),
                row.DoubleOrNull(5) is { } pressure ? new Kilopascals(pressure) : null,
                row.DoubleOrNull(6) is { } current ? new Milliamps(current) : null,
                EventNames.ReadMode(row.Text(7)), row.DoubleOrNull(8)),
            _ => { }, stop);

    public ValueTask<IReadOnlyList<JobEvent>> ReadJobRunsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        Query(
            "SELECT ts, event, job, inferred FROM job_run WHERE machine = ?1 AND ts >= ?2 AND ts < ?3 ORDER BY ts, id",
            row => new JobEvent(machine, new Instant(row.Int64(0)), EventNames.ReadKind(row.Text(1)), row.TextOrNull(2), row.Int64(3) != 0),
            query => query.Bind(1, machine).Bind(2, from.UnixNanoseconds).Bind(3, to.UnixNanoseconds), stop);

    public ValueTask<IReadOnlyList<ServiceEvent>> ReadServiceEventsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        Query(
            "SELECT ts, part, action, serial, note, details FROM service_event WHERE machine = ?1 AND ts >= ?2 AND ts < ?3 ORDER BY ts, id",
            row => new ServiceEvent(
                machine, new Instant(row.Int64(0)), row.Text(1), row.Text(2), row.TextOrNull(3), row.TextOrNull(4),
                EventJson.ReadDetails(row.Text(5))),
            query => query.Bind(1, machine).Bind(2, from.UnixNanoseconds).Bind(3, to.UnixNanoseconds), stop);

    public ValueTask<IReadOnlyList<AlarmChange>> ReadAlarmChangesAsync(string? machine, Instant from, Instant to, CancellationToken stop) =>
        Query($"""
            SELECT ts, machine, condition, state, priority, value, "limit", unit, job, message, evidence, checks, by
            FROM alarm_change WHERE ts >= ?2 AND ts < ?3 {(machine is null ? "AND ?1 IS NULL" : "AND machine = ?1")} ORDER BY ts, id
            """,
            ReadAlarm,
            query => query.Bind(1, machine).Bind(2, from.UnixNanoseconds).Bind(3, to.UnixNanoseconds), stop);

    public ValueTask<IReadOnlyList<Gap>> ReadGapsAsync(string machine, Instant from, Instant to, CancellationToken stop) =>
        Query("""
            SELECT from_ts, to_ts, reason, lost FROM gap
            WHERE machine = ?1 AND from_ts < ?3 AND (from_ts >= ?2 OR to_ts > ?2) ORDER BY from_ts, id
            """,
            row => new Gap(machine, new Instant(row.Int64(0)), new Instant(row.Int64(1)), row.Text(2), row.Int64(3)),
            query => query.Bind(1, machine).Bind(2, from.UnixNanoseconds).Bind(3, to.UnixNanoseconds), stop);

    public async ValueTask<byte[]?> ReadWatchStateAsync(string machine, CancellationToken stop)
    {
        var states = await Query(
            "SELECT state FROM watch_state WHERE machine = ?1", row => PackedState.Unpack(row.Bytes(0)), query => query.Bind(1, machine), stop);
        return states.Count == 0 ? null : states[0];
    }

    public ValueTask<bool> WasDeliveredAsync(PacketDelivery delivery, CancellationToken stop)
    {
        stop.ThrowIfCancellationRequested();
        lock (_knowing)
        {
            // Asked for message after message when a broker sends a window again: the statement stays.
            ObjectDisposedException.ThrowIf(_disposed, this);
            _deliveries ??= OpenReader();
            _wasDelivered ??= new Statement(_deliveries, string.Create(CultureInfo.InvariantCulture, $"""
                SELECT 1 FROM delivery_session s JOIN delivery d ON d.session_id = s.id
                WHERE s.name = ?1 AND d.packet_id = ?2 AND d.content_hash = ?3 AND d.number > s.last_number - {BatchWriter.KeptDeliveries}
                """));
            return ValueTask.FromResult(_wasDelivered.Bind(1, delivery.Session).Bind(2, delivery.PacketId)
                .Bind(3, unchecked((long)delivery.ContentHash)).RunForInt64() is not null);
        }
    }

    public async ValueTask<Maintenance> MaintainAsync(Instant now, CancellationToken stop)
    {
        if (_writer is null || _upkeep is null)
            throw new InvalidOperationException("This store was opened for reading.");
        var upkeep = _upkeep;
        long events = 0;
        var (moved, deleted) = await SealAsync(now, stop);
        await RepeatAsync(() => Counts(upkeep.DeleteSomeAlarms(now - TimeSpan.FromDays(_options.KeepAlarmsDays)), ref events), stop);
        await RepeatAsync(() => Counts(upkeep.DeleteSomeRuns(now - TimeSpan.FromDays(_options.KeepJobRunsDays)), ref events), stop);
        await RepeatAsync(() => Counts(upkeep.DeleteSomeService(now - TimeSpan.FromDays(_options.KeepServiceDays)), ref events), stop);
        await RepeatAsync(() => Counts(upkeep.DeleteSomeGaps(now - TimeSpan.FromDays(_options.KeepGapsDays)), ref events), stop);
        await RepeatAsync(() => upkeep.TrimSomeDeliveries() > 0, stop);
        await RepeatAsync(DropSessions, stop);
        return new Maintenance(moved, deleted, events);

        bool DropSessions()
        {
            if (!upkeep.DropSessions())
                return false;
            _writer.ForgetSessions();
            return true;
        }

        static bool Counts(int step, ref long total)
        {
            total += step;
            return step > 0;
        }
    }

    /// <summary>Seals what is over, and deletes by age.</summary>
    private async ValueTask<(long Moved, long Deleted)> SealAsync(Instant now, CancellationToken stop)
    {
        var sealing = _sealing!;
        long moved = 0, deleted = 0;
        IReadOnlyList<(string Machine, IReadOnlyList<long> Series)> machines = [];
        await RepeatAsync(
            () =>
            {
                machines = _upkeep!.ReadSeries();
                return false;
            }, stop);

        var cutoff = TimeGrid.HourOf(now - TimeSpan.FromDays(_options.KeepSamplesDays));
        var over = TimeGrid.HourOf(now - LateMargin);
        var damaged = default(StoreException);

        // Once an hour of the data's own time: sealing an hour's late samples writes the whole hour anew.
        var before = over == _sealedBefore ? cutoff : over;
        foreach (var (machine, series) in machines)
        {
            var hour = TimeGrid.HourOf(Instant.MinValue);
            while (await FailsAsync(() =>
            {
                if (sealing.NextHour(series, hour) is not { } next || next >= before)
                    return false;
                hour = next + 1; // first, so that what is damaged does not hold up the others
                _writer!.ForgetSamplesOf(machine);
                moved += sealing.Seal(series, next, out var damage);
                damaged ??= damage;
                return true;
            }))
            {
            }

            foreach (var id in series)
            {
                await FailsAsync(() =>
                {
                    var step = sealing.DeleteSome(id, cutoff);
                    deleted += step;
                    if (step > 0)
                        _writer!.ForgetSamplesOf(machine);
                    return step > 0;
                });
            }
        }

        if (over != _sealedBefore)
        {
            await RepeatAsync(sealing.FreeSome, stop);
        }

        _sealedBefore = over;
        if (damaged is not null)
            throw damaged;
        return (moved, deleted);

        async ValueTask<bool> FailsAsync(Func<bool> step)
        {
            try
            {
                await RepeatAsync(step, stop);
                return false;
            }
            catch (StoreException e)
            {
                damaged ??= e;
                return true;
            }
        }
    }

    public async ValueTask DisposeAsync()
    {
        await _writing.WaitAsync();
        try
        {
            if (_disposed)
                return;
            lock (_knowing)
            {
                _disposed = true;
                _wasDelivered?.Dispose();
                _deliveries?.Dispose();
            }

            _upkeep?.Dispose();
            _sealing?.Dispose();
            _writer?.Dispose();
            _connection?.Dispose();
        }
        finally
        {
            _writing.Release();
        }
    }

    /// <summary>Runs the step, each time as a transaction of its own, until it says that nothing is left.</summary>
    private async ValueTask RepeatAsync(Func<bool> step, CancellationToken stop)
    {
        var more = true;
        while (more)
        {
            await _writing.WaitAsync(stop);
            try
            {
                ObjectDisposedException.ThrowIf(_disposed, this);
                _writer!.InTransaction(() => more = step());
            }
            finally
            {
                _writing.Release();
            }
        }
    }

    private IEnumerable<ReadOnlyMemory<Sample>> ReadBlocks(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop)
    {
        using var connection = OpenReader();
        using var reading = new SampleReading(connection, FindSeries(connection, machine, channels, table), from, to);
        foreach (var block in reading.ReadBlocks(stop))
            yield return block;
    }

    private IEnumerable<SampleStretch> ReadStretches(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop)
    {
        using var connection = OpenReader();
        using var reading = new SampleReading(connection, FindSeries(connection, machine, channels, table), from, to);
        foreach (var stretch in reading.ReadStretches(stop))
            yield return stretch;
    }

    private List<(long SeriesId, Channel Channel)> FindSeries(
        SqliteConnection connection, string machine, IReadOnlyCollection<Channel>? channels, ChannelTable table)
    {
        var wanted = channels is null or { Count: 0 } ? null : channels.Select(c => c.Name).ToHashSet();
        var series = new List<(long, Channel)>();
        using var select = new Statement(connection, "SELECT id, channel, unit FROM series WHERE machine = ?1");
        select.Bind(1, machine);
        while (select.Step())
        {
            if (wanted is null || wanted.Contains(select.Text(1)))
                series.Add((select.Int64(0), FindChannel(table, select.Text(1), select.Text(2))));
        }

        return series;
    }

    private Channel FindChannel(ChannelTable table, string name, string unit)
    {
        if (unit.Length > 0 && table.All.All(known => known.Name != name))
            return table.Declare(name, unit);
        return table.TryGet(name, out var channel)
            ? channel
            : throw new StoreException($"{_path} holds more channels than a process takes ({ChannelTable.MostOthers}); name the channels to read.");
    }

    private IEnumerable<(Channel Channel, RollUp RollUp)> ReadRollUps(
        string machine, IReadOnlyList<Channel> channels, RollUpSpan span, Instant from, Instant to, CancellationToken stop)
    {
        using var connection = OpenReader();
        using var select = new Statement(connection, "SELECT id FROM series WHERE machine = ?1 AND channel = ?2");
        using var table = new RollUpQuery(connection);
        var minutes = span == RollUpSpan.Minute ? 1 : TimeGrid.MinutesPerHour;
        foreach (var channel in channels)
        {
            if (select.Bind(1, machine).Bind(2, channel.Name).RunForInt64() is not { } seriesId)
                continue;
            foreach (var (start, sum) in table.Read(seriesId, span, FirstFrom(from), FirstFrom(to), stop))
                yield return (channel, new RollUp(TimeGrid.StartOfMinute(start * minutes), sum.Count, sum.Min, sum.Mean, sum.Max));
        }

        // The first of all time begins before what an instant can tell, and is told to begin with it.
        long FirstFrom(Instant at)
        {
            var last = span == RollUpSpan.Minute ? TimeGrid.MinuteOf(at) : TimeGrid.HourOf(at);
            return TimeGrid.StartOfMinute(last * minutes) == at ? last : last + 1;
        }
    }

    private static AlarmChange ReadAlarm(Statement row)
    {
        if (!AlarmNames.TryParse(row.Text(3), out AlarmState state) || !AlarmNames.TryParse(row.Text(4), out AlarmPriority priority))
            throw new StoreException($"The store holds an alarm in the unknown state '{row.Text(3)}', priority '{row.Text(4)}'; a newer program wrote it: use that one.");
        return new AlarmChange(
            new Instant(row.Int64(0)), row.Text(1), row.Text(2), state, priority, row.DoubleOrNull(5), row.DoubleOrNull(6), row.Text(7),
            row.TextOrNull(8), row.Text(9), EventJson.ReadEvidence(row.Text(10)), EventJson.ReadTexts(row.Text(11)), row.TextOrNull(12));
    }

    private SqliteConnection OpenReader()
    {
        ObjectDisposedException.ThrowIf(_disposed, this);
        return StoreFile.OpenForReading(_path, _options.BusySeconds);
    }

    private ValueTask<IReadOnlyList<T>> Query<T>(string sql, Func<Statement, T> read, Action<Statement> bind, CancellationToken stop)
    {
        stop.ThrowIfCancellationRequested();
        using var connection = OpenReader();
        using var query = new Statement(connection, sql);
        bind(query);
        var rows = new List<T>();
        while (query.Step())
            rows.Add(read(query));
        return ValueTask.FromResult<IReadOnlyList<T>>(rows);
    }
}
