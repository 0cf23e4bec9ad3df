using System.Globalization;

namespace LaserWatch.Reports;

public class ReportColoursTests
{
    /// <summary>Text colours and the grounds on which each may stand.</summary>
    [Theory]
    [InlineData("light")]
    [InlineData("dark")]
    [InlineData("print")]
    public void Every_text_stands_out_from_its_ground_by_four_and_a_half_to_one(string scheme)
    {
        var colours = scheme switch { "light" => ReportColours.Light, "dark" => ReportColours.Dark, _ => ReportColours.Print };
        (string Text, string Colour)[] texts = [("ink", colours.Ink), ("quiet", colours.Quiet), ("accent", colours.Accent), ("limit", colours.Limit), ("mark", colours.Mark)];
        (string Ground, string Colour)[] grounds = [("paper", colours.Paper), ("band", colours.Band), ("gap", colours.Gap)];

        Assert.All(
            from text in texts from ground in grounds select (text, ground),
            pair => Assert.True(Contrast(pair.text.Colour, pair.ground.Colour) >= 4.5, $"{pair.text.Text} on {pair.ground.Ground}: {Contrast(pair.text.Colour, pair.ground.Colour):0.00}"));
    }

    /// <summary>Shapes that carry meaning need 3 to 1 (WCAG 2.1, 1.4.11).</summary>
    [Theory]
    [InlineData("light")]
    [InlineData("dark")]
    [InlineData("print")]
    public void Every_shape_stands_out_from_the_page_by_three_to_one(string scheme)
    {
        var colours = scheme switch { "light" => ReportColours.Light, "dark" => ReportColours.Dark, _ => ReportColours.Print };

        Assert.All(new[] { colours.Dot, colours.Accent, colours.Limit, colours.Mark, colours.Ink }, shape => Assert.True(Contrast(shape, colours.Paper) >= 3));
    }

    /// <summary>What carries meaning is told apart by normal sight and without red or green cones; that in lightness helps in grey print too.</summary>
    [Theory]
    [InlineData("light", ColourSight.Normal, 15)]
    [InlineData("light", ColourSight.WithoutRed, 15)]
    [InlineData("light", ColourSight.WithoutGreen, 15)]
    [InlineData("light", ColourSight.WithoutBlue, 12)]
    [InlineData("dark", ColourSight.Normal, 15)]
    [InlineData("dark", ColourSight.WithoutRed, 15)]
    [InlineData("dark", ColourSight.WithoutGreen, 15)]
    [InlineData("dark", ColourSight.WithoutBlue, 12)]
    [InlineData("print", ColourSight.Normal, 15)]
    [InlineData("print", ColourSight.WithoutRed, 15)]
    [InlineData("print", ColourSight.WithoutGreen, 15)]
    [InlineData("print", ColourSight.WithoutBlue, 12)]
    public void Any_two_colours_that_carry_meaning_are_far_apart_by_CIEDE2000(string scheme, ColourSight sight, double least)
    {
        var colours = scheme switch { "light" => ReportColours.Light, "dark" => ReportColours.Dark, _ => ReportColours.Print };
        (string Name, string Colour)[] shapes = [("ink", colours.Ink), ("accent", colours.Accent), ("dot", colours.Dot), ("limit", colours.Limit), ("mark", colours.Mark)];

        Assert.All(
            from a in shapes from b in shapes where string.CompareOrdinal(a.Name, b.Name) < 0 select (a, b),
            pair => Assert.True(
                ColourDistance.Between(pair.a.Colour, pair.b.Colour, sight) >= least,
                $"{pair.a.Name} and {pair.b.Name}: {ColourDistance.Between(pair.a.Colour, pair.b.Colour, sight):0.0}"));
    }

    /// <summary>WCAG 2.1, relative luminance and contrast ratio (from memory); black on white is 21.</summary>
    [Fact]
    public void Black_on_white_is_twenty_one_to_one() => Assert.Equal(21, Contrast("#000000", "#ffffff"), 1e-9);

    internal static double Contrast(string a, string b)
    {
        var (high, low) = (Math.Max(Luminance(a), Luminance(b)), Math.Min(Luminance(a), Luminance(b)));
        return (high + 0.05) / (low + 0.05);
    }

    private static double Luminance(string colour)
    {
        double Part(int at)
        {
            var part = int.Parse(colour.AsSpan(at, 2), NumberStyles.HexNumber, CultureInfo.InvariantCulture) / 255.0;
            return part <= 0.04045 ? part / 12.92 : Math.Pow((part + 0.055) / 1.055, 2.4);
        }

        return (0.2126 * Part(1)) + (0.7152 * Part(3)) + (0.0722 * Part(5));
    }
}
