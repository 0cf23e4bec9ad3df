using LaserWatch.History;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports.Charts;

/// <summary>One channel by day: from the least to the greatest sample, and the median; with its limits.</summary>
internal static class RangeChart
{
    private const double Right = 10;
    private const double LeastPixels = 2;

    /// <param name="days">1 or more, in order.</param>
    /// <param name="limits">Level and words of each limit; drawn where within reach of the values.</param>
    public static string Draw(
        Canvas canvas, string id, IReadOnlyList<DayRange> days, (double From, double To) span, string unit,
        IReadOnlyList<(double Value, string Words)> limits, string title, string description)
    {
        var top = 10.0;
        var bottom = top + (canvas.IsNarrow ? 120 : 130);
        var svg = new Svg(canvas, id, bottom + 12 + (1.2 * canvas.FontSize), title, description);
        var (low, high) = (days.Min(day => day.Low), days.Max(day => day.High));
        foreach (var (limit, _) in limits)
        {
            if (limit > low - (0.6 * (high - low)) - 3 && limit < high + (0.6 * (high - low)) + 3)
                (low, high) = (Math.Min(low, limit), Math.Max(high, limit));
        }

        var values = ValueScale.Over(low, high, bottom, top, 4);
        var left = 8 + values.Ticks().Max(tick => canvas.WidthOf(Figures.WithUnit(tick, values.Decimals, unit)));
        var times = TimeScale.Over(span.From, span.To, left, canvas.Width - Right);
        Frame.Values(svg, canvas, values, times.Left, times.Right, tick => Figures.WithUnit(tick, values.Decimals, unit));
        var bins = Bins(days, times);
        svg.Path(string.Concat(bins.Select(bin => Svg.Through([(bin.X, values.Y(bin.Low)), (bin.X, values.Y(bin.High) - (bin.High > bin.Low ? 0 : 1))]))), "range");
        // The line is broken where more than a fortnight has no day: nothing was seen between.
        List<(double, double)> course = [];
        foreach (var bin in bins)
        {
            if (course.Count > 0 && bin.Day - bin.Before > 14)
                course.Add((double.NaN, double.NaN));
            course.Add((bin.X, values.Y(bin.Median)));
        }

        svg.Path(Svg.Through(course), "course");
        if (bins.Count == 1)
            svg.Circle(bins[0].X, values.Y(bins[0].Median), 2.5, "dot");
        foreach (var (limit, words) in limits.Where(limit => limit.Value >= values.From && limit.Value <= values.To))
        {
            var y = values.Y(limit);
            svg.Line(times.Left, y, times.Right, y, "limit");
            svg.Text(times.Left + 4, y - top > 1.3 * canvas.FontSize ? y - 4 : y + canvas.FontSize, words, Anchor.Start, "limit-text");
        }

        Frame.Time(svg, canvas, times, bottom);
        return svg.Finish();
    }

    // As many days to a mark as it takes to keep the marks apart: their extremes, and the median of their medians.
    private static List<(double X, double Day, double Before, double Low, double Median, double High)> Bins(IReadOnlyList<DayRange> days, TimeScale times)
    {
        List<(double, double, double, double, double, double)> bins = [];
        var before = double.NegativeInfinity;
        for (var i = 0; i < days.Count;)
        {
            var first = Number(days[i].Day);
            List<double> medians = [];
            var (low, high, last) = (days[i].Low, days[i].High, first);
            for (; i < days.Count && (medians.Count == 0 || times.X(Number(days[i].Day)) - times.X(first) < LeastPixels); i++)
            {
                medians.Add(days[i].Median);
                (low, high, last) = (Math.Min(low, days[i].Low), Math.Max(high, days[i].High), Number(days[i].Day));
            }

            medians.Sort();
            var middle = ((first + last) / 2) + 0.5;
            bins.Add((times.X(Math.Clamp(middle, times.From, times.To)), first, before, low, medians[medians.Count / 2], high));
            before = last;
        }

        return bins;
    }

    private static double Number(DateOnly day) => day.DayNumber - new DateOnly(1970, 1, 1).DayNumber;
}
