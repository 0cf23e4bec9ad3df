using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Samples of several series as one stream in time order, out of sealed hours and rows.</summary>
/// <remarks>
/// Read hour by hour, each in a read transaction of its own: within it a sample is a row or sealed, so none is missed or met twice while sealing
/// goes on, and a reader that stops half-way does not hold the log file back. Samples that come while reading are seen if they lie ahead.
/// </remarks>
internal sealed class SampleReading : IDisposable
{
    private readonly Statement _begin;
    private readonly Statement _end;
    private readonly SealedHours _sealed;
    private readonly SampleRows _rows;
    private readonly Dictionary<long, SampleColumn> _rowColumns = [];
    private readonly long _machineId;
    private readonly Source[] _sources;
    private readonly long _last;
    private long _cursor;
    private bool _done;

    /// <param name="series">The series to read, all of one machine.</param>
    public SampleReading(SqliteConnection connection, IEnumerable<(long SeriesId, Channel Channel)> series, Instant from, Instant to)
    {
        _begin = new Statement(connection, "BEGIN");
        _end = new Statement(connection, "COMMIT");
        _sealed = new SealedHours(connection);
        _rows = new SampleRows(connection);
        _sources = [.. series.OrderBy(entry => entry.Channel.Index).Select(entry => new Source(entry.SeriesId, entry.Channel))];
        foreach (var source in _sources)
            _rowColumns.Add(source.SeriesId, source.Rows);
        _machineId = _sources.Length == 0 ? 0 : _rows.MachineOf(_sources[0].SeriesId);
        _cursor = from.UnixNanoseconds;
        _done = to <= from || _sources.Length == 0;
        _last = to.UnixNanoseconds - 1; // no overflow where it is used: something lies before it
    }

    public IEnumerable<ReadOnlyMemory<Sample>> ReadBlocks(CancellationToken stop)
    {
        using var merge = new ColumnMerge(_sources.Length);
        while (ReadHour(merge, stop))
        {
            while (merge.NextBlock() is { Length: > 0 } block)
                yield return block;
        }
    }

    /// <summary>The same, each hour as it is read faster.</summary>
    public IEnumerable<SampleStretch> ReadStretches(CancellationToken stop)
    {
        using var merge = new ColumnMerge(_sources.Length);
        while (ReadHour(merge, stop))
        {
            var together = merge.IsReadTogether;
            while ((together ? merge.NextMoments() : new SampleStretch(merge.NextBlock())) is { Samples: > 0 } stretch)
                yield return stretch;
        }
    }

    public void Dispose()
    {
        _begin.Dispose();
        _end.Dispose();
        _sealed.Dispose();
        _rows.Dispose();
    }

    /// <summary>Reads the next hour; false where all was read.</summary>
    private bool ReadHour(ColumnMerge merge, CancellationToken stop)
    {
        if (_done)
            return false;
        stop.ThrowIfCancellationRequested();
        merge.Begin();
        _begin.Run();
        try
        {
            _sealed.Begin();
            var rowHour = _rows.NextHour(_machineId, _cursor);
            if (FindHour(rowHour) is not { } hour)
            {
                _done = true;
                return false;
            }

            var (first, last) = (Math.Max(_cursor, TimeGrid.FirstOfHour(hour)), Math.Min(_last, TimeGrid.LastOfHour(hour)));
            foreach (var source in _sources)
                source.Rows.Clear();
            var newestRow = rowHour == hour ? _rows.Read(_machineId, first, last, _rowColumns) : null;
            var newest = newestRow ?? last;
            foreach (var source in _sources)
            {
                _sealed.TryRead(source.SeriesId, hour, source.Sealed);
                if (source.Gather(first, last) is not { } column)
                    continue;
                merge.Add(source.Channel, column);
                newest = Math.Max(newest, column.Times[column.End - 1]);
            }

            // In an hour that has rows more may come after the newest.
            MoveTo(newest);
            return true;
        }
        finally
        {
            _end.Run();
        }
    }

    /// <summary>The next hour in which there may be anything.</summary>
    private long? FindHour(long? rowHour)
    {
        var from = TimeGrid.HourOf(new Instant(_cursor));
        var found = rowHour ?? long.MaxValue;
        foreach (var source in _sources)
            found = Math.Min(found, _sealed.NextHour(source.SeriesId, from) ?? long.MaxValue);
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

        public readonly long SeriesId = seriesId;
        public readonly Channel Channel = channel;
        public readonly SampleColumn Sealed = new();
        public readonly SampleColumn Rows = new();

        /// <summary>What lies within the bounds, sealed or not; null where there is nothing.</summary>
        public SampleColumn? Gather(long first, long last)
        {
            Sealed.Trim(first, last);
            if (Sealed.Count > 0 && Rows.Count > 0)
            {
                _both.Merge(Sealed, Rows);
                return _both;
            }

            return Sealed.Count > 0 ? Sealed : Rows.Count > 0 ? Rows : null;
        }
    }
}
