using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Summaries of minutes and hours, worked out when they are asked for.</summary>
/// <remarks>
/// Minutes come from the samples; hours that are over have theirs beside the sealed samples. To both is added what was kept of samples deleted by
/// age. Read day by day, each in a read transaction of its own, so that what is read never depends on when upkeep ran.
/// </remarks>
internal sealed class RollUpQuery(SqliteConnection connection) : IDisposable
{
    private readonly Statement _begin = new(connection, "BEGIN");
    private readonly Statement _end = new(connection, "COMMIT");
    private readonly Statement _hours = new(connection, "SELECT hour, n, min, mean, max FROM sealed_hour WHERE series_id = ?1 AND hour BETWEEN ?2 AND ?3 ORDER BY hour");
    private readonly SealedHours _sealed = new(connection);
    private readonly SampleRows _rows = new(connection);
    private readonly MinuteDay _days = new(connection);
    private readonly SampleColumn _column = new();
    private readonly SampleColumn _rowColumn = new();
    private readonly Dictionary<long, SampleColumn> _wanted = [];
    private readonly List<(long Start, RollUpSum Sum)> _sums = [];
    private long _machineId;

    /// <summary>The roll-ups that begin within the bounds: minutes, or hours, since 1970.</summary>
    /// <remarks>Opens read transactions of its own, so the connection must have none.</remarks>
    public IEnumerable<(long Start, RollUpSum Sum)> Read(long seriesId, RollUpSpan span, long from, long to, CancellationToken stop)
    {
        _machineId = _rows.MachineOf(seriesId);
        _wanted.Clear();
        _wanted.Add(seriesId, _rowColumn);
        var (hour, lastHour) = (span == RollUpSpan.Minute ? TimeGrid.HourOf(from) : from, span == RollUpSpan.Minute ? TimeGrid.HourOf(to - 1) : to - 1);
        while (from < to && hour <= lastHour)
        {
            stop.ThrowIfCancellationRequested();
            if (ReadDay(seriesId, span, hour, lastHour) is not { } next)
                break;
            foreach (var rollUp in _sums)
            {
                if (rollUp.Start >= from && rollUp.Start < to)
                    yield return rollUp;
            }

            hour = next;
        }
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _begin, _end, _hours })
            statement.Dispose();
        _sealed.Dispose();
        _rows.Dispose();
        _days.Dispose();
    }

    /// <summary>Fills the sums with those of the next day that has any; the hour after it, null at the end.</summary>
    private long? ReadDay(long seriesId, RollUpSpan span, long hour, long lastHour)
    {
        _sums.Clear();
        _begin.Run();
        try
        {
            _sealed.Begin();
            if (FindHour(seriesId, hour) is not { } found || found > lastHour)
                return null;
            var first = Math.Max(hour, found);
            var day = TimeGrid.DayOf(first);
            var last = Math.Min(lastHour, (day * TimeGrid.HoursPerDay) + TimeGrid.HoursPerDay - 1);
            _days.Read(seriesId, day, _sums);
            _rowColumn.Clear();
            _rows.Read(_machineId, TimeGrid.FirstOfHour(first), TimeGrid.LastOfHour(last), _wanted);
            _rowColumn.SumMinutes(_sums);
            if (span == RollUpSpan.Minute)
            {
                AddPackedMinutes(seriesId, first, last);
            }
            else
            {
                for (var i = 0; i < _sums.Count; i++)
                    _sums[i] = (TimeGrid.HourOf(_sums[i].Start), _sums[i].Sum);
                AddPackedHours(seriesId, first, last);
            }

            MinuteDay.Gather(_sums);
            return last + 1;
        }
        finally
        {
            _end.Run();
        }
    }

    /// <summary>The next hour in which there may be something.</summary>
    private long? FindHour(long seriesId, long hour)
    {
        var found = _sealed.NextHour(seriesId, hour) ?? long.MaxValue;
        if (_rows.NextHour(_machineId, TimeGrid.FirstOfHour(hour)) is { } row)
            found = Math.Min(found, row);
        if (_days.NextDay(seriesId, TimeGrid.DayOf(hour)) is { } day)
            found = Math.Min(found, day * TimeGrid.HoursPerDay);
        return found == long.MaxValue ? null : found;
    }

    private void AddPackedMinutes(long seriesId, long first, long last)
    {
        for (var hour = _sealed.NextHour(seriesId, first); hour <= last; hour = _sealed.NextHour(seriesId, hour.Value + 1))
        {
            _sealed.Begin();
            if (_sealed.TryRead(seriesId, hour.Value, _column))
                _column.SumMinutes(_sums);
        }
    }

    private void AddPackedHours(long seriesId, long first, long last)
    {
        _hours.Bind(1, seriesId).Bind(2, first).Bind(3, last);
        while (_hours.Step())
            _sums.Add((_hours.Int64(0), new RollUpSum(_hours.Int64(1), _hours.Double(2), _hours.Double(3), _hours.Double(4))));
    }
}
