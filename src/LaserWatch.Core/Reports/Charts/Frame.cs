namespace LaserWatch.Reports.Charts;

/// <summary>The axes of a chart, and the room within them.</summary>
internal static class Frame
{
    /// <summary>Grid lines with their values to the left of the field.</summary>
    public static void Values(Svg svg, Canvas canvas, ValueScale scale, double left, double right, Func<double, string> label)
    {
        foreach (var tick in scale.Ticks())
        {
            svg.Line(left, scale.Y(tick), right, scale.Y(tick), "grid");
            svg.Text(left - 6, scale.Y(tick) + (0.35 * canvas.FontSize), label(tick), Anchor.End);
        }
    }

    /// <summary>The axis of time below the field; labels that would reach beyond the drawing are pushed in, and left out where they would touch the next.</summary>
    public static void Time(Svg svg, Canvas canvas, TimeScale scale, double bottom)
    {
        svg.Line(scale.Left, bottom, scale.Right, bottom, "axis");
        var free = 0.0;
        foreach (var (day, label) in scale.Ticks(canvas))
        {
            var x = scale.X(day);
            svg.Line(x, bottom, x, bottom + 4, "axis");
            var half = canvas.WidthOf(label) / 2;
            var middle = Math.Clamp(x, half, canvas.Width - half);
            if (middle - half < free)
                continue;
            svg.Text(middle, bottom + 6 + canvas.FontSize, label, Anchor.Middle);
            free = middle + half + (0.5 * canvas.FontSize);
        }
    }
}
