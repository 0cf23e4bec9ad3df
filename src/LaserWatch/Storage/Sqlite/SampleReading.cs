using System.Runtime.CompilerServices;
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
    private readonly TailBlocks _tail;
    private readonly long _machineId;
    private readonly Step _step;
    private readonly Step _ahead;
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
        _tail = new TailBlocks(connection);
        List<(long SeriesId, Channel Channel)> inOrder = [.. series.OrderBy(entry => entry.Channel.Index)];
        _step = new Step(connection, inOrder);
        _ahead = new Step(connection, inOrder);
        _machineId = inOrder.Count == 0 ? 0 : _tail.MachineOf(inOrder[0].SeriesId);
        _cursor = from.UnixNanoseconds;
        _done = to <= from || inOrder.Count == 0;
        _last = to.UnixNanoseconds - 1; // no overflow where it is used: something lies before it
    }

    public IEnumerable<ReadOnlyMemory<Sample>> ReadBlocks(CancellationToken stop)
    {
        while (!_done)
        {
            stop.ThrowIfCancellationRequested();
            Read(_step);
            while (_step.Merge.NextBlock() is { Length: > 0 } block)
                yield return block;
        }
    }

    /// <summary>The same, each hour as it is read faster, and the next unpacked on another thread while it is looked at.</summary>
    public async IAsyncEnumerable<SampleStretch> ReadStretchesAsync([EnumeratorCancellation] CancellationToken stop)
    {
        var (step, ahead) = (_step, _ahead);
        if (!_done)
            Read(step);
        for (var isLast = false; !isLast;)
        {
            stop.ThrowIfCancellationRequested();
            isLast = _done;
            var reading = isLast ? Task.CompletedTask : Task.Run(() => Read(ahead), CancellationToken.None);
            try
            {
                var together = step.Merge.IsReadTogether;
                while ((together ? step.Merge.NextMoments() : new SampleStretch(step.Merge.NextBlock())) is { Samples: > 0 } stretch)
                    yield return stretch;
            }
            finally
            {
                // Whoever stops here takes the connection away; what went wrong ahead is for those who go on.
                await reading.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }

            await reading.ConfigureAwait(false);
            (step, ahead) = (ahead, step);
        }
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _begin, _end, _nextRow, _rows })
            statement.Dispose();
        _step.Dispose();
        _ahead.Dispose();
        _tail.Dispose();
    }

    private void Read(Step step)
    {
        step.Merge.Begin();
        _begin.Run();
        try
        {
            step.Sealed.Begin();
            if (FindHour(step) is not { } hour)
            {
                _done = true;
                return;
            }

            var (first, last) = (Math.Max(_cursor, TimeGrid.FirstOfHour(hour)), Math.Min(_last, TimeGrid.LastOfHour(hour)));
            var end = last;
            var isLive = false;
            foreach (var source in step.Sources)
                source.Committed.Clear();
            if (_nextCommitted == hour)
                _tail.Read(_machineId, hour, first, step.Committed);
            foreach (var source in step.Sources)
            {
                if (source.NextSealed == hour)
                    step.Sealed.TryRead(source.SeriesId, hour, source.Packed);
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
            foreach (var source in step.Sources)
            {
                if (source.Gather(first, end) is not { } column)
                    continue;
                isLive |= source.Committed.Count > 0;
                step.Merge.Add(source.Channel, column);
                newest = Math.Max(newest, column.Times[column.End - 1]);
            }

            // In an hour that is not packed more may come after the newest.
            MoveTo(!isLive ? TimeGrid.LastOfHour(hour) : end < last ? end : newest);
        }
        finally
        {
            _end.Run();
        }
    }

    /// <summary>The next hour in which there is anything.</summary>
    private long? FindHour(Step step)
    {
        var from = TimeGrid.HourOf(new Instant(_cursor));
        _nextCommitted = _tail.NextHour(_machineId, _cursor);
        var found = _nextCommitted ?? long.MaxValue;
        foreach (var source in step.Sources)
        {
            source.NextSealed = step.Sealed.NextHour(source.SeriesId, from);
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

    /// <summary>What one step was read into.</summary>
    private sealed class Step : IDisposable
    {
        public readonly SealedHours Sealed;
        public readonly Source[] Sources;
        public readonly Dictionary<long, SampleColumn> Committed;
        public readonly ColumnMerge Merge;

        public Step(SqliteConnection connection, List<(long SeriesId, Channel Channel)> series)
        {
            Sealed = new SealedHours(connection);
            Sources = [.. series.Select(entry => new Source(entry.SeriesId, entry.Channel))];
            Committed = Sources.ToDictionary(source => source.SeriesId, source => source.Committed);
            Merge = new ColumnMerge(Sources.Length);
        }

        public void Dispose() => Sealed.Dispose();
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
