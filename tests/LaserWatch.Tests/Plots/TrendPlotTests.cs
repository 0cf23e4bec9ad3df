using System.Xml.Linq;
using LaserWatch.History;
using LaserWatch.Telemetry;
using SkiaSharp;

namespace LaserWatch.Plots;

public class TrendPlotTests
{
    private static readonly IReadOnlyList<ChannelTrend> Ageing = [Trend(60)];

    [Theory]
    [InlineData(TrendPlot.DefaultWidth, TrendPlot.DefaultHeight)]
    [InlineData(TrendPlot.LeastWidth, TrendPlot.LeastHeight)]
    [InlineData(2400, 1200)]
    public void A_png_has_its_size_and_letters_where_the_title_stands(int width, int height)
    {
        using var picture = SKBitmap.Decode(TrendPlot.ToPng(Ageing, width, height));

        Assert.Equal((width, height), (picture.Width, picture.Height));
        // Without a font these rows would be white.
        Assert.True(Ink(picture, 2, 20) > 100);
    }

    [Fact]
    public void An_svg_is_well_formed_names_a_font_of_last_resort_and_says_in_words_what_it_shows()
    {
        var svg = XDocument.Parse(TrendPlot.ToSvg(Ageing)).Root!;
        var space = svg.Name.Namespace;

        Assert.Equal(("img", "0 0 1100 660"), (svg.Attribute("role")!.Value, svg.Attribute("viewBox")!.Value));
        Assert.StartsWith("bay1: tube current against its baseline, all powers pooled (tube 1, T-000001", svg.Element(space + "title")!.Value, StringComparison.Ordinal);
        Assert.Contains("Projected: end of life (85 %) about 2026-", svg.Element(space + "desc")!.Value, StringComparison.Ordinal);
        var texts = svg.Descendants(space + "text").ToList();
        Assert.All(texts, text => Assert.Equal("DejaVu Sans, Verdana, sans-serif", text.Attribute("font-family")!.Value));
        foreach (var label in (string[])["baseline", "sag", "end of life", "current / baseline, %", "1: 2026-03-09 tube installed (T-000001)", "estimate of a day, with its standard error"])
            Assert.Contains(texts, text => text.Value.Trim().Contains(label, StringComparison.Ordinal));
    }

    [Fact]
    public void The_same_trend_gives_the_same_picture_and_another_title_another() =>
        Assert.Equal(
            (true, false),
            (TrendPlot.ToPng(Ageing).AsSpan().SequenceEqual(TrendPlot.ToPng(Ageing)), TrendPlot.ToPng(Ageing).AsSpan().SequenceEqual(TrendPlot.ToPng([Ageing[0] with { What = "another" }]))));

    [Fact]
    public void A_trend_without_a_line_and_one_of_a_single_day_are_drawn_too()
    {
        foreach (var days in (int[])[1, 5])
            Assert.NotEmpty(TrendPlot.ToPng([Trend(days)]));
    }

    [Fact]
    public void Nothing_is_drawn_of_nothing()
    {
        Assert.Throws<ArgumentException>(() => TrendPlot.ToPng([]));
        Assert.Throws<ArgumentException>(() => TrendPlot.ToSvg(Ageing, 100, 100));
    }

    private static int Ink(SKBitmap picture, int fromRow, int toRow)
    {
        var dark = 0;
        for (var y = fromRow; y < toRow; y++)
        {
            for (var x = 0; x < picture.Width; x++)
                dark += picture.GetPixel(x, y).Red < 128 ? 1 : 0;
        }

        return dark;
    }

    private static ChannelTrend Trend(int days)
    {
        var shop = new TubeShop { MinutesOfRun = 6 }.Serve(0, "tube", "installed", "T-000001").Work(0, days, day => 1 - (0.0012 * day)).Serve(20, "coolant", "changed", note: "a long note");
        var history = shop.History();
        return TubeTrend.Of(history, history.Tubes[^1], null, new TrendFrame("bay1", TubeShop.Options, Instant.MinValue, Instant.MaxValue, shop.Services, [], []));
    }
}
