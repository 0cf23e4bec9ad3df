using System.Globalization;
using System.Net;
using LaserWatch.History;
using LaserWatch.Rehearsal;
using LaserWatch.Telemetry;
using ScottPlot;
using ScottPlot.TickGenerators;

namespace LaserWatch.Plots;

/// <summary>Both timelines of a comparison, one above the other for each condition.</summary>
/// <remarks>
/// No meaning is in colour alone: A's row lies above B's and both are named; what stands is a bar from a mark; the mark is a dot where both raise the
/// alarm, a cross where it vanishes, a hollow diamond where it appears; a line joins the two of a pair that moved. The same comparison gives the same picture.
/// </remarks>
public sealed class ComparisonPlot(Comparison comparison, string nameA, string nameB)
{
    private const int RoomForWords = 170;
    private const int RowHeight = 52;
    private const int MostHeight = 8000;
    private const double HalfRow = 0.47;
    private const float LetterSize = 12;
    private static readonly Color InkA = PlotColours.Dot;
    private static readonly Color InkB = PlotColours.Accent;
    private static readonly Color Vanishing = PlotColours.Quiet;
    private static readonly Color Good = PlotColours.Quiet.WithAlpha(0.05);
    private static readonly Color Shaded = PlotColours.Quiet.WithAlpha(0.18);
    private static readonly Color Appearing = PlotColours.Limit;

    /// <summary>What people said of the time, shaded behind the alarms of its machine: dark where nothing is learned, light where all was well.</summary>
    public IReadOnlyList<Annotation> Annotations { get; init; } = [];

    private readonly IReadOnlyList<ConditionTally> _rows = comparison.Conditions;

    private (Instant From, Instant To) Bounds
    {
        get
        {
            var from = comparison.First ?? default;
            return (from, comparison.Last is { } last && last > from ? last : from + TimeSpan.FromHours(1));
        }
    }

    /// <summary>As tall as its rows need.</summary>
    public int Height => Math.Clamp(RoomForWords + (RowHeight * Math.Max(1, _rows.Count)), TrendPlot.LeastHeight, MostHeight);

    public byte[] ToPng(int width)
    {
        using var plot = Draw();
        return plot.GetImage(width, Height).GetImageBytes(ImageFormat.Png);
    }

    /// <summary>With a title and a description for those who do not see it.</summary>
    public string ToSvg(int width)
    {
        using var plot = Draw();
        var title = $"<title>Alarms under A and B</title><desc>{WebUtility.HtmlEncode(ComparisonWords.Summary(comparison))}</desc>";
        return TrendPlot.Titled(plot.GetSvgXml(width, Height), width, Height, title);
    }

    private Plot Draw()
    {
        var plot = new Plot();
        PlotFont.Use(plot);
        plot.FigureBackground.Color = Colors.White;
        plot.DataBackground.Color = Colors.White;
        plot.Grid.MajorLineColor = PlotColours.Grid;
        plot.Axes.Color(PlotColours.Ink);
        foreach (var annotation in Annotations)
            Shade(plot, annotation);
        for (var i = 0; i < _rows.Count; i++)
            Row(plot, _rows[i], _rows.Count - 1 - i);
        Axes(plot);
        Legend(plot);
        return plot;
    }

    /// <summary>Behind the rows of its machine. A fault is named; what was good only where its name has room.</summary>
    private void Shade(Plot plot, Annotation annotation)
    {
        var rows = Enumerable.Range(0, _rows.Count).Where(i => _rows[i].Machine == annotation.Machine).Select(i => _rows.Count - 1 - i).ToList();
        if (rows.Count == 0)
            return;
        var (from, to) = Bounds;
        var (left, right) = (X(Earlier(to, Later(from, annotation.From))), X(Earlier(to, Later(from, annotation.To))));
        var span = plot.Add.Rectangle(left, right, rows.Min() - HalfRow, rows.Max() + HalfRow);
        span.FillStyle.Color = annotation.Kind == AnnotationKind.Good ? Good : Shaded;
        (span.LineStyle.Width, span.LineStyle.Color, span.LineStyle.Pattern) = (1, Vanishing, LinePattern.Dotted);
        if (annotation.Kind == AnnotationKind.Good && right - left < 0.1 * (X(to) - X(from)))
            return;
        var isLate = left > X(from) + (0.8 * (X(to) - X(from)));
        var words = plot.Add.Text(annotation.Words, isLate ? right : left, rows.Max() + HalfRow);
        (words.LabelFontName, words.LabelFontSize, words.LabelFontColor, words.LabelAlignment) = (PlotFont.Name, LetterSize - 2, PlotColours.Ink, isLate ? Alignment.UpperRight : Alignment.UpperLeft);
    }

    private void Row(Plot plot, ConditionTally row, int at)
    {
        foreach (var pair in comparison.Pairs.Where(p => p.Machine == row.Machine && p.Condition == row.Condition))
        {
            if (pair is { A: { } a, B: { } b } && a.Raised != b.Raised)
            {
                var moved = plot.Add.ScatterLine(new[] { X(a.Raised), X(b.Raised) }, new[] { OfA(at), OfB(at) });
                (moved.Color, moved.LineWidth, moved.LinePattern) = (PlotColours.Ink, 1, LinePattern.Dotted);
            }

            if (pair.A is { } before)
                Mark(plot, before, OfA(at), InkA, pair.B is null ? MarkerShape.Eks : MarkerShape.FilledCircle, pair.B is null ? Vanishing : InkA);
            if (pair.B is { } after)
                Mark(plot, after, OfB(at), InkB, pair.A is null ? MarkerShape.OpenDiamond : MarkerShape.FilledCircle, pair.A is null ? Appearing : InkB);
        }
    }

    private static void Mark(Plot plot, RaisedAlarm alarm, double y, Color bar, MarkerShape shape, Color ink)
    {
        var stands = plot.Add.ScatterLine(new[] { X(alarm.Raised), X(alarm.Until) }, new[] { y, y });
        (stands.Color, stands.LineWidth) = (bar, 5);
        var mark = plot.Add.Marker(X(alarm.Raised), y, shape, 10, ink);
        mark.MarkerStyle.LineWidth = 2;
    }

    private void Axes(Plot plot)
    {
        plot.Axes.DateTimeTicksBottom();
        var (from, to) = Bounds;
        var format = to - from < TimeSpan.FromDays(3) ? "MM-dd HH:mm" : "yyyy-MM-dd";
        plot.Axes.Bottom.TickGenerator = new DateTimeAutomatic { LabelFormatter = day => day.ToString(format, CultureInfo.InvariantCulture) };
        var machines = _rows.Select(r => r.Machine).Distinct().Count();
        plot.Axes.Left.TickGenerator = new NumericManual(
            [.. _rows.SelectMany((_, i) => new[] { OfA(_rows.Count - 1 - i), OfB(_rows.Count - 1 - i) })],
            [.. _rows.SelectMany(r => new[]
            {
                string.Create(CultureInfo.InvariantCulture, $"{(machines > 1 ? r.Machine + " " : "")}{r.Condition}  A ({r.RaisedA})"),
                string.Create(CultureInfo.InvariantCulture, $"B ({r.RaisedB})"),
            })]);
        foreach (var axis in new[] { plot.Axes.Bottom.TickLabelStyle, plot.Axes.Left.TickLabelStyle })
            axis.FontSize = LetterSize;
        plot.Axes.Bottom.Label.Text = "date (UTC)";
        (plot.Axes.Bottom.Label.FontSize, plot.Axes.Bottom.Label.Bold) = (LetterSize, false);
        plot.Axes.Title.Label.Text = string.Create(CultureInfo.InvariantCulture, $"A: {nameA}: {comparison.A.Raised} alarm(s)\nB: {nameB}: {comparison.B.Raised} alarm(s)");
        (plot.Axes.Title.Label.FontSize, plot.Axes.Title.Label.Bold) = (LetterSize + 1, false);
        var room = (to - from) * 0.03;
        plot.Axes.SetLimits(X(from - room), X(to + room), -0.7, Math.Max(_rows.Count - 1, 0) + 0.7);
    }

    private static void Legend(Plot plot)
    {
        var legend = plot.ShowLegend(Edge.Bottom);
        (legend.Legend.FontName, legend.Legend.FontSize, legend.Legend.OutlineWidth, legend.Legend.ShadowColor) = (PlotFont.Name, LetterSize, 0, Colors.Transparent);
        legend.Legend.Orientation = Orientation.Horizontal;
        foreach (var (words, shape, ink) in new[]
        {
            ("raised by both, and how long it stands", MarkerShape.FilledCircle, InkB),
            ("vanishes under B", MarkerShape.Eks, Vanishing),
            ("appears under B", MarkerShape.OpenDiamond, Appearing),
        })
        {
            legend.Legend.ManualItems.Add(new LegendItem { LabelText = words, MarkerShape = shape, MarkerColor = ink, MarkerSize = 10, LabelFontName = PlotFont.Name, LabelFontSize = LetterSize });
        }
    }

    private static Instant Earlier(Instant x, Instant y) => x < y ? x : y;

    private static Instant Later(Instant x, Instant y) => x > y ? x : y;

    private static double OfA(int row) => row + 0.18;

    private static double OfB(int row) => row - 0.18;

    private static double X(Instant at) => at.ToDateTimeOffset().UtcDateTime.ToOADate();
}
