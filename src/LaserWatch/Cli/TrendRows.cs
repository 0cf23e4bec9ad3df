using LaserWatch.History;

namespace LaserWatch.Cli;

/// <summary>A trend's days for reading: each, or by weeks, or by months, so that there are never more than some dozens of rows.</summary>
internal static class TrendRows
{
    private const int MostDays = 35;
    private const int MostWeeks = 60;

    /// <param name="From">The first day that the row stands for.</param>
    /// <param name="Value">Mean of its days, weighted by their certainty.</param>
    /// <param name="Count">Blocks or minutes.</param>
    public readonly record struct Row(DateOnly From, DateOnly To, double Value, double Error, double? Milliamps, int Days, int Count);

    /// <param name="heading">What the rows' first column is called.</param>
    public static IReadOnlyList<Row> Of(ChannelTrend trend, out string heading)
    {
        Func<DateOnly, DateOnly> start = day => day;
        heading = "day";
        if (trend.Days.Count > MostDays)
        {
            (start, heading) = (Monday, "week of");
            if (trend.Days.Select(day => Monday(day.Day)).Distinct().Count() > MostWeeks)
                (start, heading) = (day => new DateOnly(day.Year, day.Month, 1), "month");
        }

        var milliamps = trend.Milliamps?.ToDictionary(day => day.Day, day => day.Value);
        return [.. trend.Days.GroupBy(day => start(day.Day)).Select(group => Pool(group.Key, [.. group], milliamps))];
    }

    private static DateOnly Monday(DateOnly day) => day.AddDays(-(((int)day.DayOfWeek + 6) % 7));

    private static Row Pool(DateOnly first, List<DailyEstimate> days, Dictionary<DateOnly, double>? milliamps)
    {
        var least = days.Where(day => day.Error > 0).Select(day => day.Error).DefaultIfEmpty(1).Min();
        var weights = days.Select(day => 1 / Math.Max(day.Error * day.Error, least * least)).ToList();
        var total = weights.Sum();
        return new(
            first, days[^1].Day, days.Zip(weights, (day, weight) => day.Value * weight).Sum() / total,
            days.All(day => day.Error == 0) ? 0 : Math.Sqrt(1 / total),
            milliamps is null ? null : days.Average(day => milliamps.GetValueOrDefault(day.Day, double.NaN)) is var mean && double.IsFinite(mean) ? mean : null,
            days.Count, days.Sum(day => day.Count));
    }
}
