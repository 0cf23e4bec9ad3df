using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Samples of several series as one stream in time order.</summary>
/// <remarks>
/// Each series is read in pages, and no statement stays open between two: memory is one page a series, and a reader that stops
/// half-way does not hold the log file back. Samples that come while reading are seen if they lie ahead.
/// </remarks>
internal static class SampleMerge
{
    private const int PageRows = 1024;

    public static IEnumerable<Sample> Read(
        SqliteConnection connection, IReadOnlyList<(long SeriesId, Channel Channel)> series, Instant from, Instant to,
        CancellationToken stop)
    {
        using var select = new Statement(connection, "SELECT ts, value FROM sample WHERE series_id = ?1 AND ts >= ?2 AND ts < ?3 ORDER BY ts LIMIT ?4");
        var queue = new PriorityQueue<Page, (long Ts, int Channel)>();
        foreach (var (seriesId, channel) in series)
        {
            var page = new Page(seriesId, channel, from.UnixNanoseconds, to.UnixNanoseconds);
            if (page.Fill(select))
                queue.Enqueue(page, page.Order);
        }

        while (queue.TryDequeue(out var page, out _))
        {
            var others = queue.TryPeek(out _, out var next) ? next : (Ts: long.MaxValue, Channel: int.MaxValue);
            bool more;
            do
            {
                yield return page.Current;
                more = page.Next();
                if (!more)
                {
                    stop.ThrowIfCancellationRequested();
                    more = page.Fill(select);
                }
            }
            while (more && page.Order.CompareTo(others) < 0);

            if (more)
                queue.Enqueue(page, page.Order);
        }
    }

    private sealed class Page(long seriesId, Channel channel, long from, long to)
    {
        private readonly long[] _ts = new long[PageRows];
        private readonly double[] _values = new double[PageRows];
        private long _from = from;
        private int _count;
        private int _at;
        private bool _last;

        public Sample Current => new(channel, new Instant(_ts[_at]), _values[_at]);

        public (long Ts, int Channel) Order => (_ts[_at], channel.Index);

        public bool Next() => ++_at < _count;

        /// <summary>Reads the next page; false where there is none.</summary>
        public bool Fill(Statement select)
        {
            _at = 0;
            _count = 0;
            if (_last)
                return false;
            select.Bind(1, seriesId).Bind(2, _from).Bind(3, to).Bind(4, PageRows);
            while (select.Step())
            {
                _ts[_count] = select.Int64(0);
                _values[_count++] = select.Double(1);
            }

            _last = _count < PageRows;
            if (_count > 0)
                _from = _ts[_count - 1] + 1; // no overflow: every time is below `to`
            return _count > 0;
        }
    }
}
