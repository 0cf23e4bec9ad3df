using System.Globalization;

namespace LaserWatch.Reports;

/// <summary>Whose eyes: with all cones, or without those for long, middle or short waves.</summary>
public enum ColourSight
{
    Normal,
    WithoutRed,
    WithoutGreen,
    WithoutBlue,
}

/// <summary>How far apart two colours look: CIEDE2000 of sRGB colours, as eyes of a kind see them.</summary>
/// <remarks>
/// CIEDE2000: Sharma, Wu and Dalal, Color Res. Appl. 30 (2005) 21; the tests hold it to pairs of its table 1 (from memory). Sight without a
/// kind of cones: Machado, Oliveira and Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291, matrices of severity 1, on linear sRGB (from memory).
/// </remarks>
internal static class ColourDistance
{
    private static readonly double[] Whole = [1, 0, 0, 0, 1, 0, 0, 0, 1];
    private static readonly double[] NoRed = [0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998];
    private static readonly double[] NoGreen = [0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881];
    private static readonly double[] NoBlue = [1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900];

    public static double Between(string a, string b, ColourSight sight) => Between(Lab(a, sight), Lab(b, sight));

    public static double Between((double L, double A, double B) x, (double L, double A, double B) y)
    {
        var mean = (Math.Sqrt((x.A * x.A) + (x.B * x.B)) + Math.Sqrt((y.A * y.A) + (y.B * y.B))) / 2;
        var stretch = 1 + (0.5 * (1 - Saturation(mean)));
        var (c1, h1) = Polar(x.A * stretch, x.B);
        var (c2, h2) = Polar(y.A * stretch, y.B);
        var grey = c1 * c2 == 0;
        var turn = grey ? 0 : h2 - h1 > 180 ? h2 - h1 - 360 : h2 - h1 < -180 ? h2 - h1 + 360 : h2 - h1;
        var (lightness, chroma) = ((x.L + y.L) / 2, (c1 + c2) / 2);
        var hue = grey ? h1 + h2 : Math.Abs(h1 - h2) <= 180 ? (h1 + h2) / 2 : h1 + h2 < 360 ? (h1 + h2 + 360) / 2 : (h1 + h2 - 360) / 2;
        var t = 1 - (0.17 * Cos(hue - 30)) + (0.24 * Cos(2 * hue)) + (0.32 * Cos((3 * hue) + 6)) - (0.20 * Cos((4 * hue) - 63));
        var l = (y.L - x.L) / (1 + (0.015 * Square(lightness - 50) / Math.Sqrt(20 + Square(lightness - 50))));
        var c = (c2 - c1) / (1 + (0.045 * chroma));
        var h = 2 * Math.Sqrt(c1 * c2) * Sin(turn / 2) / (1 + (0.015 * chroma * t));
        var rotation = -Sin(60 * Math.Exp(-Square((hue - 275) / 25))) * 2 * Saturation(chroma);
        return Math.Sqrt((l * l) + (c * c) + (h * h) + (rotation * c * h));
    }

    private static (double L, double A, double B) Lab(string colour, ColourSight sight)
    {
        var m = sight switch { ColourSight.WithoutRed => NoRed, ColourSight.WithoutGreen => NoGreen, ColourSight.WithoutBlue => NoBlue, _ => Whole };
        var (r, g, b) = (Linear(colour, 1), Linear(colour, 3), Linear(colour, 5));
        double Seen(int row) => Math.Clamp((m[row] * r) + (m[row + 1] * g) + (m[row + 2] * b), 0, 1);
        (r, g, b) = (Seen(0), Seen(3), Seen(6));

        // IEC 61966-2-1, white D65.
        var x = F(((0.4124564 * r) + (0.3575761 * g) + (0.1804375 * b)) / 0.95047);
        var y = F((0.2126729 * r) + (0.7151522 * g) + (0.0721750 * b));
        var z = F(((0.0193339 * r) + (0.1191920 * g) + (0.9503041 * b)) / 1.08883);
        return ((116 * y) - 16, 500 * (x - y), 200 * (y - z));
    }

    private static double Linear(string colour, int at)
    {
        var part = int.Parse(colour.AsSpan(at, 2), NumberStyles.HexNumber, CultureInfo.InvariantCulture) / 255.0;
        return part <= 0.04045 ? part / 12.92 : Math.Pow((part + 0.055) / 1.055, 2.4);
    }

    private static double F(double t) => t > 216.0 / 24389 ? Math.Cbrt(t) : ((24389.0 / 27 * t) + 16) / 116;

    private static (double Chroma, double Hue) Polar(double a, double b) =>
        (Math.Sqrt((a * a) + (b * b)), a == 0 && b == 0 ? 0 : ((Math.Atan2(b, a) * 180 / Math.PI) + 360) % 360);

    private static double Saturation(double chroma) => Math.Sqrt(Math.Pow(chroma, 7) / (Math.Pow(chroma, 7) + Math.Pow(25, 7)));

    private static double Square(double value) => value * value;

    private static double Cos(double degrees) => Math.Cos(degrees * Math.PI / 180);

    private static double Sin(double degrees) => Math.Sin(degrees * Math.PI / 180);
}
