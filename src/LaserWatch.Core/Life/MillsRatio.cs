using MathNet.Numerics;

namespace LaserWatch.Life;

/// <summary>(1 − Φ(x))/φ(x): the normal's upper tail by its density, which neither overflows nor loses digits far out.</summary>
internal static class MillsRatio
{
    private static readonly double RootTwoPi = Math.Sqrt(2 * Math.PI);

    public static double Density(double x) => Math.Exp(-x * x / 2) / RootTwoPi;

    /// <summary>Φ(x).</summary>
    public static double Cumulative(double x) => SpecialFunctions.Erfc(-x / Constants.Sqrt2) / 2;

    /// <remarks>From x = 2 on Laplace's continued fraction (Abramowitz and Stegun 26.2.14; from memory), below by the complementary error function.</remarks>
    public static double At(double x)
    {
        if (x < 2)
            return Cumulative(-x) / Density(x);
        // The farther out, the fewer terms reach the last bit: about in proportion to 1/x².
        return ByTerms(x, x < 3 ? 120 : Math.Min(60, (int)(800 / (x * x)) + 8));
    }

    internal static double ByTerms(double x, int terms)
    {
        var rest = x;
        for (var k = terms; k > 0; k--)
            rest = x + (k / rest);
        return 1 / rest;
    }

    /// <summary>exp((b² − a²)/2)·Φ(−b): the second term of first-passage distributions, a tail tilted by an exponential that alone would overflow.</summary>
    public static double Tilted(double a, double b) =>
        b < 2 ? Math.Exp((b - a) * (b + a) / 2) * Cumulative(-b) : Density(a) * At(b);
}
