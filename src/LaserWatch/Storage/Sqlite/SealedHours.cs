using LaserWatch.Storage.Packing;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Reads sealed hours: the packed blocks of hours that are over.</summary>
/// <remarks>Wants a transaction around what must be of one state of the file. Not safe for several threads.</remarks>
internal sealed class SealedHours : IDisposable
{
    private readonly SqliteConnection _connection;
    private readonly Statement _next;
    private readonly Statement _last;
    private readonly Statement _find;
    private readonly Statement _values;
    private readonly Statement _times;
    private readonly List<SharedTimes> _shared = [];
    private int _sharedCount;

    public SealedHours(SqliteConnection connection)
    {
        _connection = connection;
        _next = new Statement(connection, "SELECT hour FROM sealed_hour WHERE series_id = ?1 AND hour >= ?2 ORDER BY hour LIMIT 1");
        _last = new Statement(connection, "SELECT hour FROM sealed_hour WHERE series_id = ?1 ORDER BY hour DESC LIMIT 1");
        _find = new Statement(connection, "SELECT time_id FROM sealed_hour WHERE series_id = ?1 AND hour = ?2");
        _values = new Statement(connection, "SELECT block FROM sealed_value WHERE id = ?1");
        _times = new Statement(connection, "SELECT block FROM sealed_time WHERE id = ?1");
    }

    /// <summary>The first sealed hour of the series at or after the one given.</summary>
    public long? NextHour(long seriesId, long hour) => _next.Bind(1, seriesId).Bind(2, hour).RunForInt64();

    public long? LastHour(long seriesId) => _last.Bind(1, seriesId).RunForInt64();

    /// <summary>To be called at the begin of each transaction: times read before may belong to other blocks now.</summary>
    public void Begin() => _sharedCount = 0;

    /// <summary>Reads the hour of the series; false, and an empty column, where it is not sealed.</summary>
    /// <remarks>Columns of hours that share their times share the array; it is good until the next <see cref="Begin"/>.</remarks>
    /// <exception cref="StoreException">The block is damaged; the message names machine, channel and hour.</exception>
    public bool TryRead(long seriesId, long hour, SampleColumn into)
    {
        into.Clear();
        if (_find.Bind(1, seriesId).Bind(2, hour).RunForInt64() is not { } timeId)
            return false;
        try
        {
            var times = ReadTimes(timeId);
            ReadValues(BlockKey.Of(seriesId, hour), into.Take(times.Times, times.Count));
            return true;
        }
        catch (Exception e) when (e is InvalidDataException or OverflowException)
        {
            into.Clear();
            throw new StoreException(Explain(seriesId, hour, e.Message), e);
        }
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _next, _last, _find, _values, _times })
            statement.Dispose();
    }

    private SharedTimes ReadTimes(long timeId)
    {
        for (var i = 0; i < _sharedCount; i++)
        {
            if (_shared[i].Id == timeId)
                return _shared[i];
        }

        if (_sharedCount == _shared.Count)
            _shared.Add(new SharedTimes());
        var times = _shared[_sharedCount];
        if (!_times.Bind(1, timeId).Step())
            throw new InvalidDataException("the block of its times is gone");
        try
        {
            var block = ChunkFormat.Open(_times.Bytes(0), timeId);
            times.Count = PackedTimes.ReadCount(ref block);
            if (times.Times.Length < times.Count)
                times.Times = new long[times.Count];
            PackedTimes.Read(ref block, times.Times.AsSpan(0, times.Count));
            times.Id = timeId;
            _sharedCount++;
            return times;
        }
        finally
        {
            _times.Reset();
        }
    }

    private void ReadValues(long key, Span<double> values)
    {
        if (!_values.Bind(1, key).Step())
            throw new InvalidDataException("the block of its values is gone");
        try
        {
            var block = ChunkFormat.Open(_values.Bytes(0), key);
            PackedValues.Read(ref block, values);
        }
        finally
        {
            _values.Reset();
        }
    }

    private string Explain(long seriesId, long hour, string what)
    {
        using var series = new Statement(_connection, "SELECT machine, channel FROM series WHERE id = ?1");
        var (machine, channel) = series.Bind(1, seriesId).Step() ? (series.Text(0), series.Text(1)) : ("?", "?");
        return $"The samples of {machine} {channel} in the hour from {TimeGrid.StartOfMinute(hour * TimeGrid.MinutesPerHour)} are damaged in {_connection.DataSource}: "
            + $"{what}; put a copy of the file in its place, or read the times before and after it.";
    }

    private sealed class SharedTimes
    {
        public long Id;
        public long[] Times = [];
        public int Count;
    }
}
