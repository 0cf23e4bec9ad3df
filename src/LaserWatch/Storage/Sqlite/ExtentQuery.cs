using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>First and last sample of a machine, and how many it has.</summary>
/// <remarks>
/// Counts by the roll-ups of whole hours, and row by row only where those do not say it: a year of samples would take minutes
/// to count. Wants a read transaction around it.
/// </remarks>
internal sealed class ExtentQuery(SqliteConnection connection) : IDisposable
{
    private readonly Statement _series = new(connection, "SELECT id, sealed_before FROM series WHERE machine = ?1");
    private readonly Statement _first = new(connection, "SELECT ts FROM sample WHERE series_id = ?1 ORDER BY ts LIMIT 1");
    private readonly Statement _last = new(connection, "SELECT ts FROM sample WHERE series_id = ?1 ORDER BY ts DESC LIMIT 1");
    private readonly Statement _countHours = new(connection, "SELECT sum(n) FROM rollup_hour WHERE series_id = ?1 AND hour >= ?2");
    private readonly Statement _countHour = new(connection, "SELECT n FROM rollup_hour WHERE series_id = ?1 AND hour = ?2");
    private readonly Statement _staleMinutes = new(connection, "SELECT minute FROM stale_minute WHERE series_id = ?1 ORDER BY minute");
    private readonly Statement _countSamples = new(connection, "SELECT count(*) FROM sample WHERE series_id = ?1 AND ts BETWEEN ?2 AND ?3");

    public SampleExtent? Read(string machine, CancellationToken stop)
    {
        var all = new List<(long Id, long? SealedBefore)>();
        _series.Bind(1, machine);
        while (_series.Step())
            all.Add((_series.Int64(0), _series.IsNull(1) ? null : _series.Int64(1)));

        SampleExtent? extent = null;
        foreach (var (id, sealedBefore) in all)
        {
            stop.ThrowIfCancellationRequested();
            if (_first.Bind(1, id).RunForInt64() is not { } first || _last.Bind(1, id).RunForInt64() is not { } last)
                continue;
            var count = Count(id, sealedBefore);
            extent = extent is { } sum
                ? new SampleExtent(
                    new Instant(Math.Min(sum.First.UnixNanoseconds, first)), new Instant(Math.Max(sum.Last.UnixNanoseconds, last)), sum.Count + count)
                : new SampleExtent(new Instant(first), new Instant(last), count);
        }

        return extent;
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _series, _first, _last, _countHours, _countHour, _staleMinutes, _countSamples })
            statement.Dispose();
    }

    private long Count(long id, long? sealedBefore)
    {
        var firstHour = sealedBefore is { } minute ? TimeGrid.HourOf(minute) : long.MinValue;
        var uncertain = new HashSet<long>();
        if (sealedBefore is not null)
            uncertain.Add(firstHour); // deleted up to somewhere within it
        _staleMinutes.Bind(1, id);
        while (_staleMinutes.Step())
            uncertain.Add(TimeGrid.HourOf(_staleMinutes.Int64(0)));

        var count = _countHours.Bind(1, id).Bind(2, firstHour).RunForInt64() ?? 0;
        foreach (var hour in uncertain)
        {
            if (hour >= firstHour)
                count -= _countHour.Bind(1, id).Bind(2, hour).RunForInt64() ?? 0;
            var from = hour * TimeGrid.MinutesPerHour;
            count += _countSamples.Bind(1, id).Bind(2, RollUpTable.FirstOf(from)).Bind(3, RollUpTable.LastOf(from + TimeGrid.MinutesPerHour - 1))
                .RunForInt64() ?? 0;
        }

        return count;
    }
}
