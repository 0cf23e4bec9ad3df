namespace LaserWatch.Reports.Charts;

/// <summary>Beam hours by calendar month.</summary>
internal static class MonthChart
{
    private const double Right = 4;

    /// <param name="months">First day of each month and its hours; every month from the first to the last, 1 or more.</param>
    public static string Draw(Canvas canvas, string id, IReadOnlyList<(DateOnly Month, double Hours)> months, string title, string description)
    {
        var top = 1.6 * canvas.FontSize;
        var bottom = top + (canvas.IsNarrow ? 130 : 150);
        var svg = new Svg(canvas, id, bottom + 10 + (1.2 * canvas.FontSize), title, description);
        var values = ValueScale.Over(0, Math.Max(1, months.Max(month => month.Hours)), bottom, top, 4);
        var right = canvas.Width - Right;
        var left = 8 + values.Ticks().Max(tick => canvas.WidthOf(Figures.WithUnit(tick, values.Decimals, "h")));
        Frame.Values(svg, canvas, values, left, right, tick => Figures.WithUnit(tick, values.Decimals, "h"));
        var slot = (right - left) / months.Count;
        var bar = Math.Min(46, Math.Max(1, slot * 0.72));
        // Months that have no room for their names share one: every second, third, fourth, sixth or twelfth is named.
        var label = canvas.WidthOf("0000-00") + (0.6 * canvas.FontSize);
        var every = ((int[])[1, 2, 3, 4, 6, 12, 24, 60, 120]).FirstOrDefault(step => step * slot >= label, 240);
        var free = 0.0;
        for (var i = 0; i < months.Count; i++)
        {
            var (month, hours) = months[i];
            var x = left + ((i + 0.5) * slot);
            svg.Rectangle(x - (bar / 2), values.Y(hours), bar, bottom - values.Y(hours), "bar");
            var value = Figures.Number(hours, hours < 10 ? 1 : 0);
            if (canvas.WidthOf(value) < slot)
                svg.Text(x, values.Y(hours) - 4, value, Anchor.Middle, "ink");
            if (((month.Year * 12) + month.Month - 1) % every != 0 && months.Count > 1)
                continue;
            var half = canvas.WidthOf("0000-00") / 2;
            var middle = Math.Clamp(x, half, canvas.Width - half);
            if (middle - half < free)
                continue;
            svg.Text(middle, bottom + 5 + canvas.FontSize, Figures.Date(month)[..7], Anchor.Middle);
            free = middle + half + (0.4 * canvas.FontSize);
        }

        svg.Line(left, bottom, right, bottom, "axis");
        return svg.Finish();
    }
}
