using System.Net;
using System.Text.RegularExpressions;
using LaserWatch.History;
using ScottPlot;

namespace LaserWatch.Plots;

/// <summary>Trends as a picture: raw daily estimates, robust line with its interval, thresholds, work done, gaps, and the projection.</summary>
/// <remarks>
/// Trends of one channel, oldest tube first; the projection is that of the last. No meaning is in colour alone: estimates are dots, the line is drawn through, thresholds and the
/// projection are dashed and named at the edge, work is numbered and listed below. The same trends give the same picture.
/// </remarks>
public static partial class TrendPlot
{
    public const int DefaultWidth = 1100;
    public const int DefaultHeight = 660;

    /// <summary>Smaller than this nothing can be read.</summary>
    public const int LeastWidth = 480, LeastHeight = 320;

    /// <summary>A PNG, in its bytes.</summary>
    /// <exception cref="ArgumentException">No trend, one without days, or too small a picture.</exception>
    public static byte[] ToPng(IReadOnlyList<ChannelTrend> trends, int width = DefaultWidth, int height = DefaultHeight)
    {
        using var plot = Draw(trends, width, height);
        return plot.GetImage(width, height).GetImageBytes(ImageFormat.Png);
    }

    /// <summary>An SVG of its own, with a title and a description for those who do not see it. Its letters stay letters.</summary>
    /// <remarks>The font is only named: where it is not installed, the reader's program takes the next of similar width.</remarks>
    /// <exception cref="ArgumentException">As for <see cref="ToPng"/>.</exception>
    public static string ToSvg(IReadOnlyList<ChannelTrend> trends, int width = DefaultWidth, int height = DefaultHeight)
    {
        using var plot = Draw(trends, width, height);
        var title = $"<title>{WebUtility.HtmlEncode(Title(trends))}</title><desc>{WebUtility.HtmlEncode(Says(trends))}</desc>";
        return Titled(plot.GetSvgXml(width, height), width, height, title);
    }

    /// <summary>An SVG as ScottPlot writes it, with fonts to fall back on and the elements that are read out.</summary>
    internal static string Titled(string svg, int width, int height, string title) => SvgElement().Replace(
        svg.Replace($"font-family=\"{PlotFont.Name}\"", $"font-family=\"{PlotFont.Name}, Verdana, sans-serif\"", StringComparison.Ordinal),
        match => $"<svg role=\"img\" viewBox=\"0 0 {width} {height}\"{match.Groups[1].Value}>{title}", 1);

    /// <summary>What the picture says, in words: for a caption, or for those who do not see it.</summary>
    public static string Says(IReadOnlyList<ChannelTrend> trends) => Findings(trends[^1]) is var (now, ahead) ? $"{now} {ahead}" : "";

    internal static (string Now, string Ahead) Findings(ChannelTrend trend) =>
        ($"Now {TrendSentences.Now(trend)}; {(trend.Line is null ? TrendSentences.PerMonth(trend) : "a month " + TrendSentences.PerMonth(trend))}.",
        $"Projected: {TrendSentences.Projected(trend)}.{(trend.Line is null ? "" : $" Intervals of {TrendNumbers.Percent(trend.Confidence)}.")}");

    public static string Title(IReadOnlyList<ChannelTrend> trends) => $"{trends[0].Machine}: {trends[0].What}"
        + (trends.Count == 1 && trends[0].Tube is { } tube ? $" ({tube.Words})" : trends.Count > 1 ? $" ({trends.Count} tubes)" : "");

    private static Plot Draw(IReadOnlyList<ChannelTrend> trends, int width, int height)
    {
        if (trends.Count == 0 || trends.Any(trend => trend.Days.Count == 0))
            throw new ArgumentException("A picture needs a trend with days.", nameof(trends));
        if (width < LeastWidth || height < LeastHeight)
            throw new ArgumentException($"A picture is at least {LeastWidth} by {LeastHeight}.", nameof(width));
        var plot = new Plot();
        PlotFont.Use(plot);
        new TrendPicture(plot, trends, width, height).Draw();
        return plot;
    }

    [GeneratedRegex("<svg([^>]*)>")]
    private static partial Regex SvgElement();
}
