using LaserWatch.Storage.Packing;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Packs hours that are over, and deletes packed ones by age. Each step is short, and runs inside a transaction of its caller.</summary>
/// <remarks>Not safe for several threads.</remarks>
internal sealed class Sealing : IDisposable
{
    private const long LeastSpare = 16;
    private const long SpareShare = 50;
    private const long LeastToRewrite = 1024;

    private readonly List<Statement> _statements = [];
    private readonly Statement _nextRow;
    private readonly Statement _rows;
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
    private readonly Statement _autoVacuum;
    private readonly Statement _freeSome;
    private readonly Statement _addRow;
    private readonly Statement _deleteBlocks;
    private readonly SealedHours _sealed;
    private readonly TailBlocks _tail;
    private readonly MinuteDay _days;
    private readonly SampleColumn _packed = new();
    private readonly SampleColumn _live = new();
    private readonly SampleColumn _both = new();
    private readonly SampleColumn _all = new();
    private readonly Dictionary<long, SampleColumn> _committed = [];
    private readonly List<SampleColumn> _columns = [];
    private readonly PackWriter _block = new();
    private readonly List<(long Minute, RollUpSum Sum)> _minutes = [];

    public Sealing(SqliteConnection connection)
    {
        _sealed = new SealedHours(connection);
        _tail = new TailBlocks(connection);
        _days = new MinuteDay(connection);
        _nextRow = Prepare("SELECT ts FROM sample WHERE series_id = ?1 AND ts >= ?2 ORDER BY ts LIMIT 1");
        _rows = Prepare("SELECT ts, value FROM sample WHERE series_id = ?1 AND ts BETWEEN ?2 AND ?3 ORDER BY ts");
        _deleteRows = Prepare("DELETE FROM sample WHERE series_id = ?1 AND ts BETWEEN ?2 AND ?3");
        _addRow = Prepare("INSERT INTO sample (series_id, ts, value) VALUES (?1, ?2, ?3)");
        _deleteBlocks = Prepare("DELETE FROM tail WHERE id >= ?1 AND id < ?2");
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
        _autoVacuum = Prepare("PRAGMA auto_vacuum");
        _freeSome = Prepare("PRAGMA incremental_vacuum(128)");

        Statement Prepare(string sql)
        {
            var statement = new Statement(connection, sql);
            _statements.Add(statement);
            return statement;
        }
    }

    /// <summary>The first hour at or after the one given in which a series of the machine has samples that are not packed.</summary>
    /// <param name="machine">All its series, by their numbers.</param>
    public long? NextHour(IReadOnlyList<long> machine, long hour)
    {
        var from = TimeGrid.FirstOfHour(hour);
        var next = _tail.NextHour(machine[0], from) ?? long.MaxValue;
        foreach (var seriesId in machine)
        {
            if (_nextRow.Bind(1, seriesId).Bind(2, from).RunForInt64() is { } row)
                next = Math.Min(next, TimeGrid.HourOf(new Instant(row)));
        }

        return next == long.MaxValue ? null : next;
    }

    /// <summary>Packs the samples of the machine's hour, together with those packed before; how many were moved.</summary>
    /// <param name="damage">A series whose hour was packed before and is damaged keeps its samples as rows.</param>
    /// <exception cref="StoreException">The blocks that its commits left are damaged.</exception>
    public long Seal(IReadOnlyList<long> machine, long hour, out StoreException? damage)
    {
        damage = null;
        ReadBlocks(machine, hour);
        long moved = 0;
        foreach (var seriesId in machine)
        {
            try
            {
                moved += Seal(seriesId, hour, _committed[seriesId]);
            }
            catch (StoreException e)
            {
                damage ??= e;
                var committed = _committed[seriesId];
                for (var i = committed.Begin; i < committed.End; i++)
                    _addRow.Bind(1, seriesId).Bind(2, committed.Times[i]).Bind(3, committed.Values[i]).Run();
            }
        }

        var first = BlockKey.OfTail(machine[0], hour);
        _deleteBlocks.Bind(1, first).Bind(2, first + BlockKey.TailRoom).Run();
        return moved;
    }

    /// <summary>Deletes the series' oldest packed hours, those of one day before <paramref name="before"/>; the number of samples, 0 when none is left.</summary>
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
        if (free <= spare || !IsFreeing())
            return false;
        _freeSome.Run();
        return true;
    }

    /// <summary>Whether the file was made by a program that let no page go, and is now for the greater part free.</summary>
    public bool IsMostlyFree() =>
        !IsFreeing() && _freePages.RunForInt64() is { } free && free > LeastToRewrite && free > _pages.RunForInt64() / 2;

    public void Dispose()
    {
        foreach (var statement in _statements)
            statement.Dispose();
        _sealed.Dispose();
        _tail.Dispose();
        _days.Dispose();
    }

    private bool IsFreeing() => _autoVacuum.RunForInt64() != 0;

    private void ReadBlocks(IReadOnlyList<long> machine, long hour)
    {
        _committed.Clear();
        foreach (var seriesId in machine)
        {
            if (_committed.Count == _columns.Count)
                _columns.Add(new SampleColumn());
            var column = _columns[_committed.Count];
            column.Clear();
            _committed.Add(seriesId, column);
        }

        _tail.Read(machine[0], hour, long.MinValue, _committed);
    }

    /// <exception cref="StoreException">What was packed before is damaged; nothing was changed.</exception>
    private int Seal(long seriesId, long hour, SampleColumn committed)
    {
        var (first, last) = (TimeGrid.FirstOfHour(hour), TimeGrid.LastOfHour(hour));
        _live.Clear();
        _rows.Bind(1, seriesId).Bind(2, first).Bind(3, last);
        while (_rows.Step())
            _live.Add(_rows.Int64(0), _rows.Double(1));
        var all = committed;
        if (_live.Count > 0)
        {
            _both.Merge(committed, _live);
            all = _both;
        }

        var moved = all.Count;
        if (moved == 0)
            return 0;
        var timesBefore = _timeOfHour.Bind(1, seriesId).Bind(2, hour).RunForInt64();
        if (timesBefore is not null)
        {
            _sealed.Begin();
            _sealed.TryRead(seriesId, hour, _packed);
            _all.Merge(_packed, all);
            all = _all;
        }

        var timeId = KeepTimes(seriesId, hour, all.TimeSpan);
        KeepValues(BlockKey.Of(seriesId, hour), all.ValueSpan);
        var sum = RollUpSum.Of(all.ValueSpan);
        _setHour.Bind(1, seriesId).Bind(2, hour).Bind(3, timeId).Bind(4, sum.Count).Bind(5, sum.Min).Bind(6, sum.Mean).Bind(7, sum.Max).Run();
        if (timesBefore is { } before && before != timeId)
            LetGoOfTimes(seriesId, hour, before);
        if (_live.Count > 0)
            _deleteRows.Bind(1, seriesId).Bind(2, first).Bind(3, last).Run();
        return moved;
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
