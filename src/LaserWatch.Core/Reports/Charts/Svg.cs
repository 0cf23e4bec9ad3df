using System.Globalization;
using System.Text;

namespace LaserWatch.Reports.Charts;

/// <summary>Where a text is held.</summary>
internal enum Anchor
{
    Start,
    Middle,
    End,
}

/// <summary>Writes one drawing: shapes by style class, so that the page's scheme colours them, and text as text.</summary>
internal sealed class Svg
{
    private readonly Markup _markup = new();
    private readonly Canvas _canvas;

    /// <param name="id">Unique in the page, without the canvas' name.</param>
    /// <param name="title">What it is.</param>
    /// <param name="description">What it shows, for whoever cannot see it.</param>
    public Svg(Canvas canvas, string id, double height, string title, string description)
    {
        _canvas = canvas;
        var name = $"{id}-{canvas.Name}";
        _markup.Open(
            "svg", ("xmlns", "http://www.w3.org/2000/svg"), ("class", canvas.Name), ("id", name), ("viewBox", $"0 0 {Number(canvas.Width)} {Number(height)}"),
            ("role", "img"), ("aria-labelledby", $"{name}-title {name}-desc"), ("font-size", Number(canvas.FontSize)));
        _markup.Element("title", title, ("id", name + "-title")).Element("desc", description, ("id", name + "-desc")).Line();
    }

    public void Line(double x1, double y1, double x2, double y2, string css) =>
        _markup.Empty("line", ("x1", Number(x1)), ("y1", Number(y1)), ("x2", Number(x2)), ("y2", Number(y2)), ("class", css)).Line();

    public void Rectangle(double x, double y, double width, double height, string css)
    {
        if (width > 0 && height > 0)
            _markup.Empty("rect", ("x", Number(x)), ("y", Number(y)), ("width", Number(width)), ("height", Number(height)), ("class", css)).Line();
    }

    public void Circle(double x, double y, double radius, string css) =>
        _markup.Empty("circle", ("cx", Number(x)), ("cy", Number(y)), ("r", Number(radius)), ("class", css)).Line();

    public void Path(string data, string css)
    {
        if (data.Length > 0)
            _markup.Empty("path", ("d", data), ("class", css)).Line();
    }

    public void Text(double x, double y, string text, Anchor anchor = Anchor.Start, string css = "quiet") =>
        _markup.Element(
            "text", text, ("x", Number(x)), ("y", Number(y)), ("class", css),
            ("text-anchor", anchor switch { Anchor.Middle => "middle", Anchor.End => "end", _ => null })).Line();

    public string Finish() => _markup.CloseLine().Finish();

    /// <summary>The path through points, with a new beginning wherever one is not a number.</summary>
    public static string Through(IEnumerable<(double X, double Y)> points, bool closed = false)
    {
        var path = new StringBuilder();
        var begun = false;
        foreach (var (x, y) in points)
        {
            if (double.IsFinite(x) && double.IsFinite(y))
                path.Append(begun ? 'L' : 'M').Append(Number(x)).Append(' ').Append(Number(y));
            begun = double.IsFinite(x) && double.IsFinite(y);
        }

        return closed && path.Length > 0 ? path.Append('Z').ToString() : path.ToString();
    }

    /// <summary>Small circles as one path: hundreds of them stay a small file.</summary>
    public static string Dots(IEnumerable<(double X, double Y)> points, double radius)
    {
        var path = new StringBuilder();
        var (r, d) = (Number(radius), Number(2 * radius));
        foreach (var (x, y) in points)
            path.Append('M').Append(Number(x - radius)).Append(' ').Append(Number(y)).Append('a').Append(r).Append(' ').Append(r).Append(" 0 1 0 ").Append(d).Append(" 0a").Append(r).Append(' ').Append(r).Append(" 0 1 0 -").Append(d).Append(" 0");
        return path.ToString();
    }

    private static string Number(double value) => Math.Round(value, 1).ToString("0.#", CultureInfo.InvariantCulture) is var text && text == "-0" ? "0" : text;
}
