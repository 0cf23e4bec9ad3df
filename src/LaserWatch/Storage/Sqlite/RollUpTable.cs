using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The roll-ups of minutes and hours.</summary>
/// <remarks>
/// A minute with new samples is marked stale by who writes them, in the same transaction. Until it is rolled, a reader works it out
/// from the samples, so that what is read never depends on when it was rolled. A minute whose samples were deleted by age (it is
/// sealed) keeps its roll-up, to which late samples are added; they are then deleted too, so that none counts twice.
/// An hour is always the sum of its minutes. Not safe for several threads.
/// </remarks>
internal sealed class RollUpTable : IDisposable
{
    private const int Page = 1024;

    private readonly List<Statement> _statements = [];
    private readonly Statement _samplesOfMinute;
    private readonly Statement _storedMinute;
    private readonly Statement _minutesOfHour;
    private readonly Statement _staleOfHour;
    private readonly Statement _sealedBefore;
    private readonly Statement _minutePage;
    private readonly Statement _hourPage;
    private readonly Statement _begin;
    private readonly Statement _end;
    private readonly List<(long Start, bool Stored, RollUpSum Sum)> _rows = [];

    public RollUpTable(SqliteConnection connection)
    {
        _begin = Prepare("BEGIN");
        _end = Prepare("COMMIT");
        _samplesOfMinute = Prepare("SELECT value FROM sample WHERE series_id = ?1 AND ts BETWEEN ?2 AND ?3 ORDER BY ts");
        _storedMinute = Prepare("SELECT n, min, mean, max FROM rollup_minute WHERE series_id = ?1 AND minute = ?2");
        _minutesOfHour = Prepare("SELECT minute, n, min, mean, max FROM rollup_minute WHERE series_id = ?1 AND minute >= ?2 AND minute < ?3 ORDER BY minute");
        _staleOfHour = Prepare("SELECT minute FROM stale_minute WHERE series_id = ?1 AND minute >= ?2 AND minute < ?3");
        _sealedBefore = Prepare("SELECT sealed_before FROM series WHERE id = ?1");

        // Of two rows of one minute or hour, the mark comes first.
        _minutePage = Prepare("""
            SELECT minute AS start, 0 AS stored, 0 AS n, 0.0 AS min, 0.0 AS mean, 0.0 AS max
            FROM stale_minute WHERE series_id = ?1 AND minute >= ?2 AND minute < ?3
            UNION ALL
            SELECT minute, 1, n, min, mean, max FROM rollup_minute WHERE series_id = ?1 AND minute >= ?2 AND minute < ?3
            ORDER BY start, stored LIMIT ?4
            """);
        _hourPage = Prepare("""
            SELECT DISTINCT (minute - ((minute % 60) + 60) % 60) / 60 AS start, 0 AS stored, 0 AS n, 0.0 AS min, 0.0 AS mean, 0.0 AS max
            FROM stale_minute WHERE series_id = ?1 AND minute >= ?2 * 60 AND minute < ?3 * 60
            UNION ALL
            SELECT hour, 1, n, min, mean, max FROM rollup_hour WHERE series_id = ?1 AND hour >= ?2 AND hour < ?3
            ORDER BY start, stored LIMIT ?4
            """);

        Statement Prepare(string sql)
        {
            var statement = new Statement(connection, sql);
            _statements.Add(statement);
            return statement;
        }
    }

    /// <summary>The roll-ups that begin within the bounds (minutes, or hours, since 1970), page by page: nothing is held between two pages.</summary>
    /// <remarks>Opens read transactions of its own, so the connection must have none.</remarks>
    public IEnumerable<(long Start, RollUpSum Sum)> Read(long seriesId, RollUpSpan span, long from, long to, CancellationToken stop)
    {
        var page = new List<(long Start, RollUpSum Sum)>(Page);
        while (from < to)
        {
            stop.ThrowIfCancellationRequested();
            from = ReadPage(page, seriesId, span, from, to);
            foreach (var rollUp in page)
                yield return rollUp;
        }
    }

    /// <summary>The minute as the samples and, where it is sealed, its roll-up so far give it.</summary>
    public RollUpSum ComputeMinute(long seriesId, long minute)
    {
        var sum = default(RollUpSum);
        _samplesOfMinute.Bind(1, seriesId).Bind(2, FirstOf(minute)).Bind(3, LastOf(minute));
        while (_samplesOfMinute.Step())
            sum = sum.Add(_samplesOfMinute.Double(0));
        return IsSealed(seriesId, minute) ? StoredMinute(seriesId, minute).Merge(sum) : sum;
    }

    public RollUpSum ComputeHour(long seriesId, long hour)
    {
        var from = hour * TimeGrid.MinutesPerHour;
        var to = from + TimeGrid.MinutesPerHour;
        Span<RollUpSum> minutes = stackalloc RollUpSum[(int)TimeGrid.MinutesPerHour];
        _minutesOfHour.Bind(1, seriesId).Bind(2, from).Bind(3, to);
        while (_minutesOfHour.Step())
            minutes[(int)(_minutesOfHour.Int64(0) - from)] = ReadSum(_minutesOfHour, 1);
        _staleOfHour.Bind(1, seriesId).Bind(2, from).Bind(3, to);
        while (_staleOfHour.Step())
            minutes[(int)(_staleOfHour.Int64(0) - from)] = ComputeMinute(seriesId, _staleOfHour.Int64(0));

        var sum = default(RollUpSum);
        foreach (var minute in minutes)
            sum = sum.Merge(minute);
        return sum;
    }

    public bool IsSealed(long seriesId, long minute) =>
        _sealedBefore.Bind(1, seriesId).RunForInt64() is { } before && minute < before;

    public void Dispose()
    {
        foreach (var statement in _statements)
            statement.Dispose();
    }

    /// <summary>The first nanosecond of a minute.</summary>
    public static long FirstOf(long minute) => TimeGrid.StartOfMinute(minute).UnixNanoseconds;

    /// <summary>The last nanosecond of a minute.</summary>
    public static long LastOf(long minute)
    {
        var next = TimeGrid.StartOfMinute(minute + 1).UnixNanoseconds;
        return next == long.MaxValue ? next : next - 1;
    }

    /// <summary>Fills the page; where the next one begins.</summary>
    private long ReadPage(List<(long Start, RollUpSum Sum)> page, long seriesId, RollUpSpan span, long from, long to)
    {
        page.Clear();
        _rows.Clear();
        _begin.Run(); // marks, samples and roll-ups of one state of the file: upkeep may run beside us
        try
        {
            var rows = span == RollUpSpan.Minute ? _minutePage : _hourPage;
            rows.Bind(1, seriesId).Bind(2, from).Bind(3, to).Bind(4, Page);
            while (rows.Step())
                _rows.Add((rows.Int64(0), rows.Int64(1) != 0, ReadSum(rows, 2)));

            // The last of a full page may have its second row on the next.
            var end = _rows.Count == Page ? _rows[^1].Start : to;
            for (var i = 0; i < _rows.Count && _rows[i].Start < end; i++)
            {
                var (start, stored, sum) = _rows[i];
                if (!stored)
                {
                    sum = span == RollUpSpan.Minute ? ComputeMinute(seriesId, start) : ComputeHour(seriesId, start);
                    if (i + 1 < _rows.Count && _rows[i + 1].Start == start)
                        i++;
                }

                if (sum.Count > 0)
                    page.Add((start, sum));
            }

            return end;
        }
        finally
        {
            _end.Run();
        }
    }

    private RollUpSum StoredMinute(long seriesId, long minute)
    {
        if (!_storedMinute.Bind(1, seriesId).Bind(2, minute).Step())
            return default;
        var sum = ReadSum(_storedMinute, 0);
        _storedMinute.Reset();
        return sum;
    }

    private static RollUpSum ReadSum(Statement row, int column) =>
        new(row.Int64(column), row.Double(column + 1), row.Double(column + 2), row.Double(column + 3));
}
