using System.Globalization;
using LaserWatch.History;
using ScottPlot;
using ScottPlot.TickGenerators;

namespace LaserWatch.Plots;

/// <summary>One picture in the making.</summary>
internal sealed class TrendPicture(Plot plot, IReadOnlyList<ChannelTrend> trends, int width, int height)
{
    // Half a date, which may stand under the corner.
    private const float RoomAtTheRight = 45;

    private static readonly Color Bars = PlotColours.Dot.WithAlpha(0.35);
    private static readonly Color Band = PlotColours.Accent.WithAlpha(0.18);
    private static readonly Color GapFill = PlotColours.Quiet.WithAlpha(0.14);

    private readonly PlotScale _scale = PlotScale.Of(trends);
    private readonly TrendNumbers _numbers = new(trends[^1]);
    private readonly float _size = width < 700 ? 11 : 12;

    private ChannelTrend Newest => trends[^1];

    public void Draw()
    {
        plot.FigureBackground.Color = Colors.White;
        plot.DataBackground.Color = Colors.White;
        plot.Grid.MajorLineColor = PlotColours.Grid;
        plot.Axes.Color(PlotColours.Ink);
        Gaps();
        Thresholds();
        foreach (var trend in trends)
            Estimates(trend);
        foreach (var trend in trends.Where(trend => trend.Line is not null))
            Line(trend);
        Projection();
        var marks = Marks();
        Axes();
        Words(marks);
        plot.Axes.SetLimits(X(_scale.From), X(_scale.To), Y(_scale.Low), Y(_scale.High));
        plot.Axes.SetLimitsY(Y(_scale.Low), Y(_scale.High), plot.Axes.Right);
    }

    private static double X(double days) => ChannelTrend.FromDays(days).ToDateTimeOffset().UtcDateTime.ToOADate();

    private double Y(double value) => _numbers.Shown(value);

    private void Gaps()
    {
        var named = false;
        foreach (var gap in trends.SelectMany(trend => trend.Gaps))
        {
            var span = plot.Add.HorizontalSpan(X(_scale.Clamp(ChannelTrend.ToDays(gap.From))), X(_scale.Clamp(ChannelTrend.ToDays(gap.To))));
            span.FillStyle.Color = GapFill;
            span.LineStyle.Width = 0;
            span.LegendText = named ? "" : "no estimate";
            named = true;
        }
    }

    private void Thresholds()
    {
        foreach (var level in Newest.Thresholds.Select(threshold => threshold.Value).Distinct().Where(value => value > _scale.Low && value < _scale.High))
        {
            var line = plot.Add.HorizontalLine(Y(level));
            (line.LineColor, line.LineWidth, line.LinePattern) = (PlotColours.Limit, 1.2f, LinePattern.Dashed);
        }

        if (Newest.IsHealthRatio)
        {
            var baseline = plot.Add.HorizontalLine(Y(1));
            (baseline.LineColor, baseline.LineWidth) = (PlotColours.Quiet, 0.8f);
        }
    }

    private void Estimates(ChannelTrend trend)
    {
        var xs = trend.Days.Select(day => X(ChannelTrend.ToDays(day.At))).ToArray();
        var ys = trend.Days.Select(day => Y(day.Value)).ToArray();
        var bars = plot.Add.ErrorBar(xs, ys, trend.Days.Select(day => _numbers.Shown(day.Error)).ToArray());
        (bars.Color, bars.LineWidth, bars.CapSize) = (Bars, 1, 0);
        var dots = plot.Add.ScatterPoints(xs, ys);
        (dots.Color, dots.MarkerSize, dots.MarkerShape) = (PlotColours.Dot, xs.Length > 250 ? 3.5f : 5f, MarkerShape.FilledCircle);
        dots.LegendText = trend == trends[0] ? "estimate of a day, with its standard error" : "";
    }

    private void Line(ChannelTrend trend)
    {
        var (first, last) = (ChannelTrend.ToDays(trend.Days[trend.LineFrom].At), ChannelTrend.ToDays(trend.Days[^1].At));
        var days = Enumerable.Range(0, 41).Select(i => first + (i * (last - first) / 40)).ToArray();
        var at = days.Select(trend.LineAt).ToArray();
        var band = plot.Add.FillY([.. days.Select(X)], [.. at.Select(y => Y(y.Low))], [.. at.Select(y => Y(y.High))]);
        (band.FillColor, band.LineWidth) = (Band, 0);
        var line = Straight(first, at[0].Value, last, at[^1].Value);
        (line.Color, line.LineWidth) = (PlotColours.Accent, 2.2f);
        line.LegendText = trend == trends.First(t => t.Line is not null) ? $"robust line, with its {TrendNumbers.Percent(trend.Confidence)} interval" : "";
    }

    private ScottPlot.Plottables.Scatter Straight(double firstDay, double first, double lastDay, double last)
    {
        double[] xs = [X(firstDay), X(lastDay)], ys = [Y(first), Y(last)];
        return plot.Add.ScatterLine(xs, ys);
    }

    private void Projection()
    {
        if (Newest is not { Line: { } line, Projection: { Threshold: { } threshold, Earliest: { } earliest } projection })
            return;
        var level = threshold.Value;
        var (low, high) = (_scale.Clamp(ChannelTrend.ToDays(earliest)), projection.Latest is { } latest ? _scale.Clamp(ChannelTrend.ToDays(latest)) : _scale.To);
        if (ChannelTrend.ToDays(earliest) < _scale.To)
        {
            var interval = Straight(low, level, high, level);
            (interval.Color, interval.LineWidth) = (PlotColours.Mark, 5);
            interval.LegendText = $"projected: {TrendNumbers.Percent(Newest.Confidence)} interval";
        }

        // To its middle, or as far as the picture goes.
        var end = projection.Median is { } median ? ChannelTrend.ToDays(median) : (level - line.Intercept) / line.Slope;
        var from = line.At(_scale.Last);
        var shown = Math.Min(end, _scale.To);
        var ahead = Straight(_scale.Last, from, shown, from + ((level - from) * (shown - _scale.Last) / (end - _scale.Last)));
        (ahead.Color, ahead.LineWidth, ahead.LinePattern) = (PlotColours.Mark, 1.6f, LinePattern.Dashed);
        ahead.LegendText = "at its present course";
        if (projection.Median is not null && end <= _scale.To)
            plot.Add.Marker(X(end), Y(level), MarkerShape.FilledDiamond, 11, PlotColours.Mark);
        if (projection.Latest is { } until && ChannelTrend.ToDays(until) <= _scale.To)
            return;
        // It goes on beyond the edge.
        var beyond = plot.Add.Text("▶", X(_scale.To), Y(level));
        (beyond.LabelFontName, beyond.LabelFontSize, beyond.LabelFontColor, beyond.LabelAlignment) = (PlotFont.Name, 16, PlotColours.Mark, Alignment.MiddleRight);
    }

    /// <summary>Vertical lines, numbered at the top where nothing else is drawn; work of about the same time shares a number.</summary>
    private List<(string Number, string Words)> Marks()
    {
        var services = trends.SelectMany(trend => trend.Services).DistinctBy(mark => (mark.At, mark.Label)).OrderBy(mark => mark.At).ToList();
        List<(string, string)> list = [];
        var apart = (_scale.To - _scale.From) * 16 / Math.Max(width - 150, 100);
        for (var i = 0; i < services.Count;)
        {
            var at = ChannelTrend.ToDays(services[i].At);
            List<string> labels = [];
            for (; i < services.Count && ChannelTrend.ToDays(services[i].At) - at < apart; i++)
            {
                var label = $"{TrendSentences.Date(services[i].At)} {services[i].Label}";
                labels.Add(label);
                var line = plot.Add.VerticalLine(X(_scale.Clamp(ChannelTrend.ToDays(services[i].At))));
                (line.LineColor, line.LineWidth, line.LinePattern) = (PlotColours.Quiet, 1, LinePattern.Dotted);
            }

            var number = (list.Count + 1).ToString(CultureInfo.InvariantCulture);
            var text = plot.Add.Text(number, X(_scale.Clamp(at)), Y(_scale.High));
            (text.LabelFontName, text.LabelFontSize, text.LabelFontColor, text.LabelAlignment) = (PlotFont.Name, _size - 1, PlotColours.Ink, Alignment.UpperCenter);
            (text.LabelBackgroundColor, text.LabelBorderColor, text.LabelBorderWidth, text.LabelPadding, text.OffsetY) = (Colors.White, PlotColours.Quiet, 1, 2, 2);
            list.Add((number, string.Join(", ", labels)));
        }

        return list;
    }

    private void Axes()
    {
        plot.Axes.DateTimeTicksBottom();
        plot.Axes.Bottom.TickGenerator = new DateTimeAutomatic { LabelFormatter = day => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) };
        plot.Axes.Left.Label.Text = Newest.IsHealthRatio ? "current / baseline, %" : $"{Newest.Channel.Name}{(Newest.Unit.Length == 0 ? "" : ", " + Newest.Unit)}";
        plot.Axes.Left.TickGenerator = new NumericAutomatic { LabelFormatter = value => value.ToString("0.######", CultureInfo.InvariantCulture) };
        foreach (var axis in new[] { plot.Axes.Bottom.TickLabelStyle, plot.Axes.Left.TickLabelStyle, plot.Axes.Right.TickLabelStyle, plot.Axes.Left.Label })
            axis.FontSize = _size;
        plot.Axes.Left.Label.Bold = false;
        plot.Axes.Right.MinimumSize = RoomAtTheRight;

        // Names of levels stand at the right edge, outside the data.
        var levels = Newest.Thresholds.Where(t => t.Value > _scale.Low && t.Value < _scale.High).GroupBy(t => t.Value)
            .Select(group => (group.Key, Name: string.Join(",\n", group.Select(t => t.Name)))).ToList();
        if (Newest.IsHealthRatio)
            levels.Add((1, "baseline"));
        plot.Axes.Right.TickGenerator = new NumericManual(
            [.. levels.Select(level => Y(level.Key))],
            [.. levels.Select(level => Newest.BaselineMilliamps is { } milliamps
                ? string.Create(CultureInfo.InvariantCulture, $"{level.Name}\n{level.Key * milliamps:0.00} mA") : level.Name)]);
    }

    private void Words(List<(string Number, string Words)> marks)
    {
        var (now, ahead) = TrendPlot.Findings(Newest);
        List<string> title = [.. Wrapped(TrendPlot.Title(trends), _size + 1), .. Wrapped(now, _size + 1), .. Wrapped(ahead, _size + 1)];
        plot.Axes.Title.Label.Text = string.Join('\n', title);
        (plot.Axes.Title.Label.FontSize, plot.Axes.Title.Label.Bold) = (_size + 1, false);
        var most = Math.Max(2, (height / 90) - 2);
        var lines = marks.Take(marks.Count > most ? most - 1 : most).Select(mark => Cut($"{mark.Number}: {mark.Words}")).ToList();
        if (lines.Count < marks.Count)
            lines.Add($"and {marks.Count - lines.Count} more");
        plot.Axes.Bottom.Label.Text = string.Join('\n', lines.Prepend("date (UTC)"));
        (plot.Axes.Bottom.Label.FontSize, plot.Axes.Bottom.Label.Bold) = (_size, false);
        var legend = plot.ShowLegend(Edge.Bottom);
        (legend.Legend.FontName, legend.Legend.FontSize, legend.Legend.OutlineWidth, legend.Legend.ShadowColor) = (PlotFont.Name, _size, 0, Colors.Transparent);
        legend.Legend.Orientation = Orientation.Horizontal;
    }

    private IEnumerable<string> Wrapped(string text, float size)
    {
        var line = "";
        foreach (var word in text.Split(' '))
        {
            var longer = line.Length == 0 ? word : $"{line} {word}";
            if (line.Length > 0 && PlotFont.Width(longer, size) > width - 40)
            {
                yield return line;
                longer = word;
            }

            line = longer;
        }

        yield return line;
    }

    private string Cut(string text)
    {
        if (PlotFont.Width(text, _size) <= width - 60)
            return text;
        var end = text.Length;
        while (end > 1 && PlotFont.Width(text[..end] + " …", _size) > width - 60)
            end--;
        return text[..end] + " …";
    }
}
