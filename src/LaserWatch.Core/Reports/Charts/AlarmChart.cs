using LaserWatch.Alarms;
using LaserWatch.History;

namespace LaserWatch.Reports.Charts;

/// <summary>When alarms were raised, a row for each condition; the priority shows by the shape of the mark.</summary>
internal static class AlarmChart
{
    public const int MostRows = 12;

    /// <param name="alarms">1 or more.</param>
    public static string Draw(Canvas canvas, string id, AlarmHistory alarms, (double From, double To) span, string title, string description)
    {
        var rows = alarms.ByCondition.Take(MostRows).Select(count => count.Condition).ToList();
        var left = canvas.IsNarrow ? 8 : 16 + rows.Max(row => canvas.WidthOf(row));
        var rowHeight = canvas.IsNarrow ? 2.5 * canvas.FontSize : 1.8 * canvas.FontSize;
        var bottom = 6 + (rows.Count * rowHeight);
        var key = Key(canvas, alarms);
        var svg = new Svg(canvas, id, bottom + 14 + (1.4 * canvas.FontSize) + key.Height, title, description);
        var times = TimeScale.Over(span.From, span.To, left, canvas.Width - 10);
        for (var i = 0; i < rows.Count; i++)
        {
            var y = 6 + ((i + 1) * rowHeight) - (canvas.IsNarrow ? 0.55 * canvas.FontSize : 0.9 * canvas.FontSize);
            svg.Line(times.Left, y, times.Right, y, "grid");
            if (canvas.IsNarrow)
                svg.Text(0, y - (0.85 * canvas.FontSize), rows[i], Anchor.Start, "ink");
            else
                svg.Text(left - 14, y + (0.35 * canvas.FontSize), rows[i], Anchor.End, "ink");
            foreach (var (x, priority) in Places(alarms, rows[i], times))
                Mark(svg, priority, x, y);
        }

        Frame.Time(svg, canvas, times, bottom);
        key.Draw(svg, bottom + 12 + (1.4 * canvas.FontSize));
        return svg.Finish();
    }

    // Where marks would lie on one another one stands for all, with the highest priority of them.
    private static IEnumerable<(double X, AlarmPriority Priority)> Places(AlarmHistory alarms, string condition, TimeScale times) =>
        alarms.Occurrences.Where(alarm => alarm.Condition == condition)
            .Select(alarm => (X: Math.Clamp(times.X(ChannelTrend.ToDays(alarm.Raised)), times.Left, times.Right), alarm.Priority))
            .GroupBy(alarm => Math.Floor(alarm.X / 5))
            .Select(group => (group.First().X, group.Max(alarm => alarm.Priority)));

    private static void Mark(Svg svg, AlarmPriority priority, double x, double y)
    {
        switch (priority)
        {
            case AlarmPriority.Low:
                svg.Circle(x, y, 3, "alarm");
                break;
            case AlarmPriority.Medium:
                svg.Rectangle(x - 3.5, y - 3.5, 7, 7, "alarm");
                break;
            case AlarmPriority.High:
                svg.Path(Svg.Through([(x, y - 5), (x + 5, y), (x, y + 5), (x - 5, y)], closed: true), "alarm-high");
                break;
            default:
                svg.Path(Svg.Through([(x, y - 6), (x + 5.5, y + 4), (x - 5.5, y + 4)], closed: true), "alarm-high");
                break;
        }
    }

    private static ChartKey Key(Canvas canvas, AlarmHistory alarms)
    {
        var key = new ChartKey(canvas);
        foreach (var priority in alarms.ByPriority.Select(count => count.Priority))
            key.Add(priority.Name(), (svg, x, y) => Mark(svg, priority, x, y));
        return key;
    }
}
