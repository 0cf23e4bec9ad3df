using LaserWatch.Storage.Packing;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Seals hours that are over, and deletes sealed ones by age. Each step is short, and runs inside a transaction of its caller.</summary>
/// <remarks>Not safe for several threads.</remarks>
internal sealed class Sealing : IDisposable
{
    private const long LeastSpare = 16;
    private const long SpareShare = 50;

    private readonly List<Statement> _statements = [];
    private readonly Statement _deleteRows;
    private readonly Statement _setHour;
    private readonly Statement _deleteHour;
    private readonly Statement _timeOfHour;
    private readonly Statement _setValues;
    private readonly Statement _deleteValues;
    private readonly Statement _timesOfMachine;
    private readonly Statement _newestTime;
    private readonly Statement _addTimes;
    private readonly Statement _isShared;
    private readonly Statement _deleteTimes;
    private readonly Statement _freePages;
    private readonly Statement _pages;
    private readonly Statement _freeSome;
    private readonly Statement _addRow;
    private readonly SealedHours _sealed;
    private readonly SampleRows _rows;
    private readonly MinuteDay _days;
    private readonly SampleColumn _packed = new();
    private readonly SampleColumn _all = new();
    private readonly Dictionary<long, SampleColumn> _rowColumns = [];
    private readonly List<SampleColumn> _columns = [];
    private readonly PackWriter _block = new();
    private readonly List<(long Minute, RollUpSum Sum)> _minutes = [];

    public Sealing(SqliteConnection connection)
    {
        _sealed = new SealedHours(connection);
        _rows = new SampleRows(connection);
        _days = new MinuteDay(connection);
        _deleteRows = Prepare("DELETE FROM sample WHERE machine_id = ?1 AND ts BETWEEN ?2 AND ?3");
        _addRow = Prepare("INSERT INTO sample (machine_id, ts, series_id, value) VALUES (?1, ?2, ?3, ?4)");
        _setHour = Prepare("""
            INSERT INTO sealed_hour (series_id, hour, time_id, n, min, mean, max) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
            ON CONFLICT DO UPDATE SET time_id = excluded.time_id, n = excluded.n, min = excluded.min, mean = excluded.mean, max = excluded.max
            """);
        _deleteHour = Prepare("DELETE FROM sealed_hour WHERE series_id = ?1 AND hour = ?2");
        _timeOfHour = Prepare("SELECT time_id FROM sealed_hour WHERE series_id = ?1 AND hour = ?2");
        _setValues = Prepare("INSERT INTO sealed_value (id, block) VALUES (?1, ?2) ON CONFLICT DO UPDATE SET block = excluded.block");
        _deleteValues = Prepare("DELETE FROM sealed_value WHERE id = ?1");
        _timesOfMachine = Prepare("""
            SELECT DISTINCT t.id, t.block FROM series own JOIN series s ON s.machine = own.machine
            JOIN sealed_hour h ON h.series_id = s.id AND h.hour = ?2 JOIN sealed_time t ON t.id = h.time_id WHERE own.id = ?1
            """);
        _newestTime = Prepare("SELECT max(id) FROM sealed_time WHERE id >= ?1 AND id < ?2");
        _addTimes = Prepare("INSERT INTO sealed_time (id, block) VALUES (?1, ?2)");
        _isShared = Prepare("""
            SELECT 1 FROM series own JOIN series s ON s.machine = own.machine
            JOIN sealed_hour h ON h.series_id = s.id AND h.hour = ?2 AND h.time_id = ?3 WHERE own.id = ?1 LIMIT 1
            """);
        _deleteTimes = Prepare("DELETE FROM sealed_time WHERE id = ?1");
        _freePages = Prepare("PRAGMA freelist_count");
        _pages = Prepare("PRAGMA page_count");
        _freeSome = Prepare("PRAGMA incremental_vacuum(128)");

        Statement Prepare(string sql)
        {
            var statement = new Statement(connection, sql);
            _statements.Add(statement);
            return statement;
        }
    }

    /// <summary>The first hour at or after the one given in which the machine has samples that are not sealed.</summary>
    /// <param name="machine">All its series, by their numbers.</param>
    public long? NextHour(IReadOnlyList<long> machine, long hour) => _rows.NextHour(machine[0], TimeGrid.FirstOfHour(hour));

    /// <summary>Seals the rows of the machine's hour, together with what was sealed of it before; the number of rows sealed.</summary>
    /// <param name="damage">A series whose sealed hour is damaged keeps its rows.</param>
    public long Seal(IReadOnlyList<long> machine, long hour, out StoreException? damage)
    {
        damage = null;
        var (first, last) = (TimeGrid.FirstOfHour(hour), TimeGrid.LastOfHour(hour));
        TakeColumns(machine);
        _rows.Read(machine[0], first, last, _rowColumns);
        _deleteRows.Bind(1, machine[0]).Bind(2, first).Bind(3, last).Run();
        long moved = 0;
        foreach (var seriesId in machine)
        {
            var rows = _rowColumns[seriesId];
            if (rows.Count == 0)
                continue;
            try
            {
                Seal(seriesId, hour, rows);
                moved += rows.Count;
            }
            catch (StoreException e)
            {
                damage ??= e;
                for (var i = rows.Begin; i < rows.End; i++)
                    _addRow.Bind(1, machine[0]).Bind(2, rows.Times[i]).Bind(3, seriesId).Bind(4, rows.Values[i]).Run();
            }
        }

        return moved;
    }

    /// <summary>Deletes the series' oldest sealed hours, those of one day before <paramref name="before"/>; the number of samples, 0 when none is left.</summary>
    /// <exception cref="StoreException">They are damaged, so that no roll-up of them could be kept.</exception>
    public long DeleteSome(long seriesId, long before)
    {
        if (_sealed.NextHour(seriesId, long.MinValue) is not { } hour || hour >= before)
            return 0;
        var day = TimeGrid.DayOf(hour);
        long deleted = 0;
        _minutes.Clear();
        _days.Read(seriesId, day, _minutes);
        for (long? next = hour; next < before && TimeGrid.DayOf(next.Value) == day; next = _sealed.NextHour(seriesId, next.Value + 1))
        {
            _sealed.Begin();
            _sealed.TryRead(seriesId, next.Value, _packed);
            _packed.SumMinutes(_minutes);
            deleted += _packed.Count;
            Delete(seriesId, next.Value);
        }

        MinuteDay.Gather(_minutes);
        _days.Write(seriesId, day, _minutes);
        return deleted;
    }

    /// <summary>Gives some pages that are free back to the disk; false when few enough are left.</summary>
    /// <remarks>What an hour of rows took is free once it is packed, and taken again by the next hour: a share stays.</remarks>
    public bool FreeSome()
    {
        var free = _freePages.RunForInt64() ?? 0;
        var spare = Math.Max(LeastSpare, (_pages.RunForInt64() ?? 0) / SpareShare);
        if (free <= spare)
            return false;
        _freeSome.Run();
        return true;
    }

    public void Dispose()
    {
        foreach (var statement in _statements)
            statement.Dispose();
        _sealed.Dispose();
        _rows.Dispose();
        _days.Dispose();
    }

    /// <summary>An empty column for each series.</summary>
    private void TakeColumns(IReadOnlyList<long> machine)
    {
        _rowColumns.Clear();
        foreach (var seriesId in machine)
        {
            if (_rowColumns.Count == _columns.Count)
                _columns.Add(new SampleColumn());
            var column = _columns[_rowColumns.Count];
            column.Clear();
            _rowColumns.Add(seriesId, column);
        }
    }

    /// <exception cref="StoreException">What was sealed before is damaged; nothing was changed.</exception>
    private void Seal(long seriesId, long hour, SampleColumn rows)
    {
        var all = rows;
        var timesBefore = _timeOfHour.Bind(1, seriesId).Bind(2, hour).RunForInt64();
        if (timesBefore is not null)
        {
            _sealed.Begin();
            _sealed.TryRead(seriesId, hour, _packed);
            _all.Merge(_packed, rows);
            all = _all;
        }

        var timeId = KeepTimes(seriesId, hour, all.TimeSpan);
        KeepValues(BlockKey.Of(seriesId, hour), all.ValueSpan);
        var sum = RollUpSum.Of(all.ValueSpan);
        _setHour.Bind(1, seriesId).Bind(2, hour).Bind(3, timeId).Bind(4, sum.Count).Bind(5, sum.Min).Bind(6, sum.Mean).Bind(7, sum.Max).Run();
        if (timesBefore is { } before && before != timeId)
            LetGoOfTimes(seriesId, hour, before);
    }

    private void Delete(long seriesId, long hour)
    {
        var times = _timeOfHour.Bind(1, seriesId).Bind(2, hour).RunForInt64()!.Value;
        _deleteHour.Bind(1, seriesId).Bind(2, hour).Run();
        _deleteValues.Bind(1, BlockKey.Of(seriesId, hour)).Run();
        LetGoOfTimes(seriesId, hour, times);
    }

    private void KeepValues(long key, ReadOnlySpan<double> values)
    {
        ChunkFormat.Begin(_block);
        PackedValues.Write(_block, values);
        ChunkFormat.End(_block, key);
        _setValues.Bind(1, key).Bind(2, _block.Written).Run();
    }

    /// <summary>The block of these times: that of another series of the machine where it has the same, else a new one.</summary>
    private long KeepTimes(long seriesId, long hour, ReadOnlySpan<long> times)
    {
        ChunkFormat.Begin(_block);
        PackedTimes.Write(_block, times);
        long? found = null;
        _timesOfMachine.Bind(1, seriesId).Bind(2, hour);
        while (_timesOfMachine.Step())
        {
            // The check at the end is begun with the key, so that it is another in each.
            if (ChunkFormat.HasContent(_timesOfMachine.Bytes(1), _block.Written))
                found ??= _timesOfMachine.Int64(0);
        }

        if (found is { } shared)
            return shared;
        var first = BlockKey.Of(seriesId, hour);
        var id = _newestTime.Bind(1, first).Bind(2, first + BlockKey.Room).RunForInt64() is { } newest ? newest + 1 : first;
        ChunkFormat.End(_block, id);
        _addTimes.Bind(1, id).Bind(2, _block.Written).Run();
        return id;
    }

    private void LetGoOfTimes(long seriesId, long hour, long id)
    {
        if (_isShared.Bind(1, seriesId).Bind(2, hour).Bind(3, id).RunForInt64() is null)
            _deleteTimes.Bind(1, id).Run();
    }
}
