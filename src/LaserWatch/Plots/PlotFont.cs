using ScottPlot;
using SkiaSharp;

namespace LaserWatch.Plots;

/// <summary>The one font of all pictures, carried in the assembly: on a machine without fonts a picture would have no letters, and nothing would say so.</summary>
/// <remarks>DejaVu Sans, regular; its licence stands beside it.</remarks>
internal sealed class PlotFont : IFontResolver
{
    public const string Name = "DejaVu Sans";

    private static readonly SKTypeface Typeface = Read();

    static PlotFont() => Fonts.FontResolvers.Insert(0, new PlotFont());

    private PlotFont()
    {
    }

    /// <summary>Makes the plot use it, for all that the plot itself writes.</summary>
    public static void Use(Plot plot) => plot.Font.Set(Name);

    /// <summary>Width of a text in pixels.</summary>
    public static float Width(string text, float size)
    {
        using var font = new SKFont(Typeface, size);
        return font.MeasureText(text);
    }

    public SKTypeface? CreateTypeface(string fontName, FontWeight weight, FontSlant slant, FontSpacing spacing) => fontName == Name ? Typeface : null;

    public SKTypeface? CreateTypeface(string fontName, bool bold, bool italic) => fontName == Name ? Typeface : null;

    private static SKTypeface Read()
    {
        using var stream = typeof(PlotFont).Assembly.GetManifestResourceStream("DejaVuSans.ttf")
            ?? throw new InvalidOperationException("The font is not in the assembly.");
        return SKTypeface.FromStream(stream) ?? throw new InvalidOperationException("The font in the assembly cannot be read.");
    }
}
