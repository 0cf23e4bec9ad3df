namespace LaserWatch.Reports.Charts;

/// <summary>What the shapes of a chart mean, in rows below it.</summary>
internal sealed class ChartKey(Canvas canvas)
{
    private const double Swatch = 22;
    private readonly List<(string Words, Action<Svg, double, double> Draw)> _entries = [];

    /// <param name="draw">Draws the shape about a middle.</param>
    public ChartKey Add(string words, Action<Svg, double, double> draw)
    {
        _entries.Add((words, draw));
        return this;
    }

    public double Height => Rows().Count * RowHeight;

    private double RowHeight => 1.6 * canvas.FontSize;

    public void Draw(Svg svg, double top)
    {
        foreach (var row in Rows())
        {
            var x = 0.0;
            foreach (var (words, draw) in row)
            {
                draw(svg, x + (Swatch / 2), top + (RowHeight / 2));
                svg.Text(x + Swatch + 5, top + (RowHeight / 2) + (0.35 * canvas.FontSize), words);
                x += Width(words);
            }

            top += RowHeight;
        }
    }

    private double Width(string words) => Swatch + 5 + canvas.WidthOf(words) + canvas.FontSize;

    private List<List<(string Words, Action<Svg, double, double> Draw)>> Rows()
    {
        List<List<(string, Action<Svg, double, double>)>> rows = [];
        var x = double.PositiveInfinity;
        foreach (var entry in _entries)
        {
            if (x + Width(entry.Words) - canvas.FontSize > canvas.Width)
            {
                rows.Add([]);
                x = 0;
            }

            rows[^1].Add(entry);
            x += Width(entry.Words);
        }

        return rows;
    }
}
