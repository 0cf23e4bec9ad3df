namespace LaserWatch.Reports.Charts;

/// <summary>A size to draw a chart at. Each chart is drawn twice and the style sheet shows one: so its text keeps its size on a telephone and on paper.</summary>
/// <param name="Name">Ends the identifiers of the drawing.</param>
/// <param name="Width">Units of the drawing; about one CSS pixel each where it is shown.</param>
/// <param name="FontSize">In the same units.</param>
internal sealed record Canvas(string Name, double Width, double FontSize)
{
    /// <summary>For screens above 40 rem and for paper: 720 units on the 656 pixels that A4 leaves make 8.9 pt of 13 units.</summary>
    public static readonly Canvas Wide = new("wide", 720, 13);

    /// <summary>For telephones: shown at nine tenths or more of its size from 328 pixels on.</summary>
    public static readonly Canvas Narrow = new("narrow", 344, 12);

    public bool IsNarrow => Width < 500;

    /// <summary>About how wide a text is set: digits and lower-case letters of common sans-serif fonts, taken wide.</summary>
    public double WidthOf(string text) => 0.6 * FontSize * text.Length;
}
