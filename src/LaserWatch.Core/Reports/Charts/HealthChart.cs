using LaserWatch.History;

namespace LaserWatch.Reports.Charts;

/// <summary>A tube's health by day: single estimates, robust line with its interval, thresholds, services, gaps, projection.</summary>
internal static class HealthChart
{
    private const double Left = 64;
    private const double Right = 10;

    /// <param name="id">Unique in the page.</param>
    /// <param name="trend">With one day or more.</param>
    /// <param name="numbers">One a service of the trend: where it stands in the report's service log.</param>
    public static string Draw(Canvas canvas, string id, ChannelTrend trend, IReadOnlyList<int> numbers, string title, string description)
    {
        var key = Key(canvas, trend);
        var marks = ServiceRow.Of(trend.Services, numbers, canvas);
        var top = 8 + (marks.Any ? ServiceRow.Height(canvas) : 0);
        var bottom = top + (canvas.IsNarrow ? 210 : 268);
        var height = bottom + 14 + (1.4 * canvas.FontSize) + key.Height;
        var svg = new Svg(canvas, id, height, title, description);

        var times = Times(trend, canvas);
        var values = Values(trend, bottom, top);
        foreach (var gap in trend.Gaps)
        {
            var (from, to) = (Math.Max(times.From, ChannelTrend.ToDays(gap.From)), Math.Min(times.To, ChannelTrend.ToDays(gap.To)));
            svg.Rectangle(times.X(from), top, times.X(to) - times.X(from), bottom - top, "gap");
        }

        Frame.Values(svg, canvas, values, times.Left, times.Right, tick => Figures.Number(tick * 100, Math.Max(0, values.Decimals - 2)) + "\u00a0%");
        if (trend.Line is not null)
            svg.Path(Band(trend, times, values), "band");
        var inside = trend.Days.Where(day => day.Value >= values.From && day.Value <= values.To);
        svg.Path(Svg.Dots(inside.Select(day => (times.X(ChannelTrend.ToDays(day.At)), values.Y(day.Value))), canvas.IsNarrow ? 1.3 : 1.7), "dot");
        foreach (var day in trend.Days.Where(day => day.Value < values.From || day.Value > values.To))
            svg.Path(Wedge(times.X(ChannelTrend.ToDays(day.At)), values.Clamped(day.Value), day.Value > values.To), "dot");
        Thresholds(svg, canvas, trend, times, values);
        if (trend.Line is not null)
            svg.Path(Svg.Through(LineDays(trend).Select(day => (times.X(day), values.Clamped(trend.LineAt(day).Value)))), "trend");
        Projection(svg, trend, times, values);
        marks.Draw(svg, times, top, bottom);
        Frame.Time(svg, canvas, times, bottom);
        key.Draw(svg, bottom + 12 + (1.4 * canvas.FontSize));
        return svg.Finish();
    }

    /// <summary>How many estimates lie beyond the picture.</summary>
    public static int Beyond(ChannelTrend trend)
    {
        var values = Values(trend, 1, 0);
        return trend.Days.Count(day => day.Value < values.From || day.Value > values.To);
    }

    private static TimeScale Times(ChannelTrend trend, Canvas canvas)
    {
        var (first, last) = (ChannelTrend.ToDays(trend.Days[0].At), ChannelTrend.ToDays(trend.Days[^1].At));
        foreach (var service in trend.Services)
            last = Math.Max(last, ChannelTrend.ToDays(service.At));
        // What lies ahead gets at most half as much room again as what was seen.
        var ahead = trend.Projection.Latest ?? trend.Projection.Median;
        if (ahead is { } until)
            last = Math.Clamp(ChannelTrend.ToDays(until), last, last + (0.5 * Math.Max(7, last - first)));
        return TimeScale.Over(first, last + (0.01 * (last - first)), Left, canvas.Width - Right);
    }

    // A wild day must not press the others flat: it is marked at the edge.
    private static ValueScale Values(ChannelTrend trend, double bottom, double top)
    {
        var sorted = trend.Days.Select(day => day.Value).Order().ToList();
        var cut = sorted.Count / 100;
        var (low, high) = (sorted[cut], sorted[^(cut + 1)]);
        (low, high) = (Math.Min(low, 1), Math.Max(high, 1));
        foreach (var threshold in trend.Thresholds.Where(threshold => !threshold.Above))
            low = Math.Min(low, threshold.Value);
        if (trend.Line is not null)
        {
            foreach (var day in (ReadOnlySpan<double>)[ChannelTrend.ToDays(trend.Days[trend.LineFrom].At), ChannelTrend.ToDays(trend.Days[^1].At)])
                (low, high) = (Math.Min(low, trend.LineAt(day).Low), Math.Max(high, trend.LineAt(day).High));
        }

        return ValueScale.Over(low - 0.005, high + 0.005, bottom, top, 6);
    }

    private static IEnumerable<double> LineDays(ChannelTrend trend)
    {
        var (from, to) = (ChannelTrend.ToDays(trend.Days[trend.LineFrom].At), ChannelTrend.ToDays(trend.Days[^1].At));
        return Enumerable.Range(0, 41).Select(i => from + ((to - from) * i / 40));
    }

    private static string Band(ChannelTrend trend, TimeScale times, ValueScale values)
    {
        var days = LineDays(trend).ToList();
        return Svg.Through(
            days.Select(day => (times.X(day), values.Clamped(trend.LineAt(day).High)))
                .Concat(Enumerable.Reverse(days).Select(day => (times.X(day), values.Clamped(trend.LineAt(day).Low)))), closed: true);
    }

    private static void Thresholds(Svg svg, Canvas canvas, ChannelTrend trend, TimeScale times, ValueScale values)
    {
        var free = double.NegativeInfinity;
        foreach (var threshold in trend.Thresholds.Where(t => t.Value >= values.From && t.Value <= values.To).OrderByDescending(t => t.Value))
        {
            var y = values.Y(threshold.Value);
            svg.Line(times.Left, y, times.Right, y, "limit");
            // Two that lie close share the room of the first label.
            if (y - free < 1.2 * canvas.FontSize)
                continue;
            var below = y + (1.5 * canvas.FontSize) < values.Bottom;
            svg.Text(times.Left + 4, below ? y + canvas.FontSize + 1 : y - 5, $"{threshold.Name}, {Figures.Percent(threshold.Value, 0)}", Anchor.Start, "limit-text");
            free = y;
        }
    }

    private static void Projection(Svg svg, ChannelTrend trend, TimeScale times, ValueScale values)
    {
        if (trend.Line is null || trend.Projection is not { Threshold: { } threshold, Refusal: null } projection)
            return;
        var last = ChannelTrend.ToDays(trend.Days[^1].At);
        var now = trend.LineAt(last).Value;
        if (projection.Median is { } median)
        {
            var day = ChannelTrend.ToDays(median);
            var end = Math.Min(day, times.To);
            var reached = day > last ? now + ((threshold.Value - now) * (end - last) / (day - last)) : threshold.Value;
            svg.Path(Svg.Through([(times.X(last), values.Clamped(now)), (times.X(end), values.Clamped(reached))]), "ahead");
        }

        if (projection.Earliest is not { } earliest || ChannelTrend.ToDays(earliest) >= times.To)
            return;
        var y = values.Y(threshold.Value);
        var from = times.X(ChannelTrend.ToDays(earliest));
        var open = projection.Latest is not { } latest || ChannelTrend.ToDays(latest) > times.To;
        var to = open ? times.Right : times.X(ChannelTrend.ToDays(projection.Latest!.Value));
        svg.Line(from, y, to, y, "trend");
        svg.Line(from, y - 5, from, y + 5, "trend");
        if (!open)
            svg.Line(to, y - 5, to, y + 5, "trend");
    }

    private static ChartKey Key(Canvas canvas, ChannelTrend trend)
    {
        var key = new ChartKey(canvas).Add("estimate of a day", (svg, x, y) => svg.Circle(x, y, 2, "dot"));
        if (trend.Line is not null)
        {
            key.Add(Figures.Percent(trend.Confidence, 0) + " interval", (svg, x, y) => svg.Rectangle(x - 9, y - 5, 18, 10, "band"));
            key.Add("robust line", (svg, x, y) => svg.Line(x - 10, y, x + 10, y, "trend"));
        }

        if (trend.Thresholds.Count > 0)
            key.Add("threshold", (svg, x, y) => svg.Line(x - 11, y, x + 11, y, "limit"));
        if (trend.Line is not null && trend.Projection is { Refusal: null, Threshold: not null })
            key.Add("projection", (svg, x, y) => svg.Line(x - 10, y, x + 10, y, "ahead"));
        if (trend.Services.Count > 0)
            key.Add("service", (svg, x, y) => svg.Path(ServiceRow.Triangle(x, y + 4), "mark-fill"));
        if (trend.Gaps.Count > 0)
            key.Add("no estimates", (svg, x, y) => svg.Rectangle(x - 9, y - 5, 18, 10, "gap"));
        return key;
    }

    private static string Wedge(double x, double y, bool up) =>
        Svg.Through([(x - 3, y), (x + 3, y), (x, y + (up ? -5 : 5))], closed: true);
}
