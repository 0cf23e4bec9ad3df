using System.Globalization;

namespace LaserWatch.Reports.Charts;

/// <summary>Days since 1970 to places from left to right, with ticks at whole days, weeks or months, as many as their labels have room.</summary>
internal sealed record TimeScale(double From, double To, double Left, double Right)
{
    private static readonly int[] MonthSteps = [1, 2, 3, 6, 12, 24, 60, 120];

    public double X(double day) => Left + ((day - From) / (To - From) * (Right - Left));

    /// <summary>A scale over a span of days; a span of less than a day is made one.</summary>
    public static TimeScale Over(double from, double to, double left, double right) =>
        to - from >= 1 ? new(from, to, left, right) : new(Math.Floor(from), Math.Floor(from) + 1, left, right);

    public IReadOnlyList<(double Day, string Label)> Ticks(Canvas canvas)
    {
        var perDay = (Right - Left) / (To - From);
        var room = canvas.WidthOf("0000-00-00") + canvas.FontSize;
        foreach (var days in (ReadOnlySpan<int>)[1, 2, 7, 14])
        {
            if (days * perDay >= room)
                return EveryDays(days);
        }

        room = canvas.WidthOf("0000-00") + canvas.FontSize;
        foreach (var months in MonthSteps)
        {
            if (months * 28 * perDay >= room)
                return EveryMonths(months);
        }

        return EveryMonths(240);
    }

    private List<(double, string)> EveryDays(int step)
    {
        List<(double, string)> ticks = [];
        for (var day = Math.Ceiling(From / step) * step; day <= To; day += step)
            ticks.Add((day, Date(day).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)));
        return ticks;
    }

    private List<(double, string)> EveryMonths(int step)
    {
        List<(double, string)> ticks = [];
        var first = Date(From);
        for (var month = (((first.Year * 12) + first.Month - 1) / step) * step; ; month += step)
        {
            var day = new DateOnly(month / 12, (month % 12) + 1, 1);
            var at = day.DayNumber - new DateOnly(1970, 1, 1).DayNumber;
            if (at > To)
                return ticks;
            if (at >= From)
                ticks.Add((at, day.ToString(step % 12 == 0 ? "yyyy" : "yyyy-MM", CultureInfo.InvariantCulture)));
        }
    }

    private static DateOnly Date(double day) => DateOnly.FromDayNumber((int)Math.Floor(day) + new DateOnly(1970, 1, 1).DayNumber);
}
