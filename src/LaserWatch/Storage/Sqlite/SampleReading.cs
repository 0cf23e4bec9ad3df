using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Samples of several series as one stream in time order, out of packed hours, blocks of commits and single rows.</summary>
/// <remarks>
/// Read in steps of an hour, or of a page of rows where an hour has more of them, each step in a read transaction of its own: within it a sample is
/// in one of them, so that none is missed or met twice while sealing goes on. Nothing is held between two steps: a
/// reader that stops half-way does not hold the log file back. Samples that come while reading are seen if they lie ahead.
/// </remarks>
internal sealed class SampleReading : IDisposable
{
    private const int PageRows = 4096;

    private readonly Statement _begin;
    private readonly Statement _end;
    private readonly Statement _nextRow;
    private readonly Statement _rows;
    private readonly SealedHours _sealed;
    private readonly LiveBlocks _blocks;
    private readonly Dictionary<long, SampleColumn> _committed = [];
    private readonly long _machineId;
    private readonly Source[] _sources;
    private readonly long _last;
    private long _cursor;
    private long? _nextCommitted;
    private bool _done;

    /// <param name="series">The series to read, all of one machine.</param>
    public SampleReading(SqliteConnection connection, IEnumerable<(long SeriesId, Channel Channel)> series, Instant from, Instant to)
    {
        _begin = new Statement(connection, "BEGIN");
        _end = new Statement(connection, "COMMIT");
        _nextRow = new Statement(connection, "SELECT ts FROM sample WHERE series_id = ?1 AND ts >= ?2 ORDER BY ts LIMIT 1");
        _rows = new Statement(connection, "SELECT ts, value FROM sample WHERE series_id = ?1 AND ts BETWEEN ?2 AND ?3 ORDER BY ts LIMIT ?4");
        _sealed = new SealedHours(connection);
        _blocks = new LiveBlocks(connection);
        _sources = [.. series.OrderBy(entry => entry.Channel.Index).Select(entry => new Source(entry.SeriesId, entry.Channel))];
        foreach (var source in _sources)
            _committed.Add(source.SeriesId, source.Committed);
        _machineId = _sources.Length == 0 ? 0 : _blocks.MachineOf(_sources[0].SeriesId);
        _cursor = from.UnixNanoseconds;
        _done = to <= from || _sources.Length == 0;
        _last = to.UnixNanoseconds - 1; // no overflow where it is used: something lies before it
    }

    public IEnumerable<ReadOnlyMemory<Sample>> ReadBlocks(CancellationToken stop)
    {
        using var merge = new ColumnMerge(_sources.Length);
        while (ReadStep(merge, stop))
        {
            while (merge.NextBlock() is { Length: > 0 } block)
                yield return block;
        }
    }

    /// <summary>The same, each hour as it is read faster.</summary>
    public IEnumerable<SampleStretch> ReadStretches(CancellationToken stop)
    {
        // To unpack the next hour on another thread meanwhile was tried: waking it each time cost more than it saved.
        using var merge = new ColumnMerge(_sources.Length);
        while (ReadStep(merge, stop))
        {
            var together = merge.IsReadTogether;
            while ((together ? merge.NextMoments() : new SampleStretch(merge.NextBlock())) is { Samples: > 0 } stretch)
                yield return stretch;
        }
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _begin, _end, _nextRow, _rows })
            statement.Dispose();
        _sealed.Dispose();
        _blocks.Dispose();
    }

    /// <summary>Reads the next hour, or page of rows; false where all was read.</summary>
    private bool ReadStep(ColumnMerge merge, CancellationToken stop)
    {
        if (_done)
            return false;
        stop.ThrowIfCancellationRequested();
        merge.Begin();
        _begin.Run();
        try
        {
            _sealed.Begin();
            if (FindHour() is not { } hour)
            {
                _done = true;
                return false;
            }

            var (first, last) = (Math.Max(_cursor, TimeGrid.FirstOfHour(hour)), Math.Min(_last, TimeGrid.LastOfHour(hour)));
            var end = last;
            var isLive = false;
            foreach (var source in _sources)
                source.Committed.Clear();
            if (_nextCommitted == hour)
                _blocks.Read(_machineId, hour, first, _committed);
            foreach (var source in _sources)
            {
                if (source.NextSealed == hour)
                    _sealed.TryRead(source.SeriesId, hour, source.Packed);
                else
                    source.Packed.Clear();
                var rows = source.Rows;
                rows.Clear();
                if (source.NextRow is not { } next || next > end)
                    continue;
                _rows.Bind(1, source.SeriesId).Bind(2, first).Bind(3, end).Bind(4, PageRows);
                while (_rows.Step())
                    rows.Add(_rows.Int64(0), _rows.Double(1));
                isLive |= rows.Count > 0;
                if (rows.Count == PageRows)
                    end = rows.Times[rows.End - 1];
            }

            var newest = first;
            foreach (var source in _sources)
            {
                if (source.Gather(first, end) is not { } column)
                    continue;
                isLive |= source.Committed.Count > 0;
                merge.Add(source.Channel, column);
                newest = Math.Max(newest, column.Times[column.End - 1]);
            }

            // In an hour that is not packed more may come after the newest.
            MoveTo(!isLive ? TimeGrid.LastOfHour(hour) : end < last ? end : newest);
            return true;
        }
        finally
        {
            _end.Run();
        }
    }

    /// <summary>The next hour in which there is anything.</summary>
    private long? FindHour()
    {
        var from = TimeGrid.HourOf(new Instant(_cursor));
        _nextCommitted = _blocks.NextHour(_machineId, _cursor);
        var found = _nextCommitted ?? long.MaxValue;
        foreach (var source in _sources)
        {
            source.NextSealed = _sealed.NextHour(source.SeriesId, from);
            source.NextRow = _nextRow.Bind(1, source.SeriesId).Bind(2, _cursor).RunForInt64();
            if (source.NextSealed is { } hour)
                found = Math.Min(found, hour);
            if (source.NextRow is { } row)
                found = Math.Min(found, TimeGrid.HourOf(new Instant(row)));
        }

        return found <= TimeGrid.HourOf(new Instant(_last)) ? found : null;
    }

    private void MoveTo(long read)
    {
        _done = read >= _last;
        _cursor = _done ? read : read + 1;
    }

    private sealed class Source(long seriesId, Channel channel)
    {
        private readonly SampleColumn _both = new();
        private readonly SampleColumn _all = new();

        public readonly long SeriesId = seriesId;
        public readonly Channel Channel = channel;
        public readonly SampleColumn Packed = new();
        public readonly SampleColumn Committed = new();
        public readonly SampleColumn Rows = new();
        public long? NextSealed;
        public long? NextRow;

        /// <summary>What lies within the bounds, packed or not; null where there is nothing.</summary>
        public SampleColumn? Gather(long first, long last)
        {
            Packed.Trim(first, last);
            Committed.Trim(first, last);
            Rows.Trim(first, last);
            var all = Merged(Merged(Committed, Rows, _both), Packed, _all);
            return all.Count == 0 ? null : all;
        }

        private static SampleColumn Merged(SampleColumn one, SampleColumn other, SampleColumn into)
        {
            if (one.Count == 0 || other.Count == 0)
                return one.Count == 0 ? other : one;
            into.Merge(one, other);
            return into;
        }
    }
}
