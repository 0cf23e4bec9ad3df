using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>A channel's values over one UTC day, with the beam on.</summary>
/// <param name="Low">Least sample.</param>
/// <param name="Median">Median of the minutes' means.</param>
/// <param name="High">Greatest sample.</param>
/// <param name="Minutes">Minutes with samples.</param>
public readonly record struct DayRange(DateOnly Day, double Low, double Median, double High, int Minutes);

/// <summary>Gathers one channel's days, sample by sample in time order.</summary>
internal sealed class DayRanges
{
    private const long Minute = 60_000_000_000;
    private const long Day = 1440 * Minute;

    private readonly List<DayRange> _days = [];
    private readonly List<double> _means = [];
    private long _minute = long.MinValue;
    private long _minuteBegin;
    private double _sum;
    private int _count;
    private double _low;
    private double _high;

    public void Take(long at, double value)
    {
        if ((ulong)(at - _minuteBegin) >= Minute || _minute == long.MinValue)
            BeginMinute(at);
        (_low, _high) = _means.Count == 0 && _count == 0 ? (value, value) : (Math.Min(_low, value), Math.Max(_high, value));
        _sum += value;
        _count++;
    }

    public IReadOnlyList<DayRange> Finish()
    {
        CloseMinute();
        CloseDay();
        return _days;
    }

    public static DateOnly DayOf(long at) => DateOnly.FromDayNumber((int)Floor(at, Day) + new DateOnly(1970, 1, 1).DayNumber);

    /// <summary>The end of the UTC day in which an instant lies, ns since 1970.</summary>
    public static long EndOfDay(long at) => (Floor(at, Day) + 1) * Day;

    private static long Floor(long at, long unit) => Math.DivRem(at, unit, out var rest) - (rest < 0 ? 1 : 0);

    private void BeginMinute(long at)
    {
        var minute = Floor(at, Minute);
        CloseMinute();
        if (_minute != long.MinValue && Floor(minute * Minute, Day) != Floor(_minute * Minute, Day))
            CloseDay();
        (_minute, _minuteBegin) = (minute, minute * Minute);
    }

    private void CloseMinute()
    {
        if (_count > 0)
            _means.Add(_sum / _count);
        (_sum, _count) = (0, 0);
    }

    private void CloseDay()
    {
        if (_means.Count == 0)
            return;
        _means.Sort();
        var middle = _means.Count / 2;
        var median = _means.Count % 2 == 1 ? _means[middle] : (_means[middle - 1] + _means[middle]) / 2;
        _days.Add(new(DayOf(_minute * Minute), _low, median, _high, _means.Count));
        _means.Clear();
    }
}
