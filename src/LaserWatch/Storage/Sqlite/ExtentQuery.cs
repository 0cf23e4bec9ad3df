using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>First and last sample of a machine, and how many it has.</summary>
/// <remarks>Counts sealed hours by their directory: to unpack a year would take seconds. Wants a read transaction around it.</remarks>
internal sealed class ExtentQuery(SqliteConnection connection) : IDisposable
{
    private readonly Statement _series = new(connection, "SELECT id FROM series WHERE machine = ?1");
    private readonly Statement _countPacked = new(connection, "SELECT sum(n) FROM sealed_hour WHERE series_id = ?1");
    private readonly SealedHours _sealed = new(connection);
    private readonly SampleRows _rows = new(connection);
    private readonly SampleColumn _column = new();

    public SampleExtent? Read(string machine, CancellationToken stop)
    {
        var all = new List<long>();
        _series.Bind(1, machine);
        while (_series.Step())
            all.Add(_series.Int64(0));

        SampleExtent? extent = null;
        foreach (var id in all)
        {
            stop.ThrowIfCancellationRequested();
            if (_sealed.NextHour(id, long.MinValue) is { } firstHour && _sealed.LastHour(id) is { } lastHour)
                Add(ReadHour(id, firstHour).TimeSpan[0], ReadHour(id, lastHour).TimeSpan[^1], _countPacked.Bind(1, id).RunForInt64() ?? 0);
        }

        if (all.Count > 0 && _rows.ExtentOf(all.Min()) is { } newest)
            Add(newest.First.UnixNanoseconds, newest.Last.UnixNanoseconds, newest.Count);
        return extent;

        void Add(long first, long last, long count) => extent = extent is { } sum
            ? new SampleExtent(
                new Instant(Math.Min(sum.First.UnixNanoseconds, first)), new Instant(Math.Max(sum.Last.UnixNanoseconds, last)), sum.Count + count)
            : new SampleExtent(new Instant(first), new Instant(last), count);
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _series, _countPacked })
            statement.Dispose();
        _sealed.Dispose();
        _rows.Dispose();
    }

    private SampleColumn ReadHour(long id, long hour)
    {
        _sealed.TryRead(id, hour, _column);
        return _column;
    }
}
