using MathNet.Numerics.Distributions;

namespace LaserWatch.Trends;

/// <summary>A robust straight line: the median of the slopes of all pairs, with Sen's interval for the slope.</summary>
/// <param name="Low">Lower end of the interval of the slope.</param>
/// <param name="High">Upper end of the interval of the slope.</param>
/// <param name="Intercept">Median of y − slope·x: half the points lie above the line, half below.</param>
/// <remarks>
/// H. Theil, Proc. Kon. Ned. Akad. Wetensch. A 53 (1950); P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379. Breaks down only when more than
/// 29 % of the points are wrong.
/// </remarks>
public sealed record TheilSen(double Slope, double Low, double High, double Intercept)
{
    /// <summary>All pairs are held at once, 8 bytes each: 2000 points take 16 MB.</summary>
    public const int MostPoints = 2000;

    /// <summary>The line at <paramref name="x"/>.</summary>
    public double At(double x) => Intercept + (Slope * x);

    /// <summary>Fits the line; O(n² log n) time and O(n²) memory.</summary>
    /// <param name="x">Any order, ties allowed; points that share an x make no pair.</param>
    /// <param name="y">As many as x.</param>
    /// <param name="confidence">Of the interval of the slope, above 0 and below 1.</param>
    /// <param name="varianceFactor">
    /// n/n* of <see cref="MannKendall"/>, at least 1: by how much autocorrelation enlarges the variance of Kendall's S, and so the interval.
    /// </param>
    /// <remarks>Interval: Sen 1968 with correction for ties in x and y, ranks rounded half to even, as SciPy's <c>theilslopes</c> does.</remarks>
    /// <exception cref="ArgumentException">Lengths differ, fewer than two different x, too many points, or a value that is not finite.</exception>
    public static TheilSen Fit(ReadOnlySpan<double> x, ReadOnlySpan<double> y, double confidence = 0.95, double varianceFactor = 1)
    {
        if (x.Length != y.Length)
            throw new ArgumentException($"There are {x.Length} x and {y.Length} y.", nameof(y));
        if (x.Length > MostPoints)
            throw new ArgumentException($"{x.Length} points are more than {MostPoints}: take medians of groups first.", nameof(x));
        ArgumentOutOfRangeException.ThrowIfLessThan(varianceFactor, 1);
        if (!(confidence > 0 && confidence < 1))
            throw new ArgumentOutOfRangeException(nameof(confidence), confidence, "A confidence lies between 0 and 1.");
        RankSums.RequireFinite(x, nameof(x));
        RankSums.RequireFinite(y, nameof(y));

        var slopes = Slopes(x, y);
        var slope = RankSums.Median(slopes);

        var spread = Normal.InvCDF(0, 1, (1 + confidence) / 2)
            * Math.Sqrt(varianceFactor * (RankSums.TieFreeVariance(x.Length) - RankSums.TieCorrection(x) - RankSums.TieCorrection(y)));
        var low = Math.Clamp((int)Math.Round((slopes.Length - spread) / 2) - 1, 0, slopes.Length - 1);
        var high = Math.Clamp((int)Math.Round((slopes.Length + spread) / 2), 0, slopes.Length - 1);

        var rests = new double[x.Length];
        for (var i = 0; i < x.Length; i++)
            rests[i] = y[i] - (slope * x[i]);
        return new(slope, RankSums.Select(slopes, low), RankSums.Select(slopes, high), RankSums.Median(rests));
    }

    /// <summary>The slope alone, of finite values.</summary>
    internal static double SlopeOf(ReadOnlySpan<double> x, ReadOnlySpan<double> y) => RankSums.Median(Slopes(x, y));

    private static Span<double> Slopes(ReadOnlySpan<double> x, ReadOnlySpan<double> y)
    {
        var slopes = new double[x.Length * (x.Length - 1) / 2];
        var count = 0;
        for (var i = 0; i < x.Length; i++)
        {
            for (var j = i + 1; j < x.Length; j++)
            {
                if (x[i] != x[j])
                    slopes[count++] = (y[j] - y[i]) / (x[j] - x[i]);
            }
        }

        return count > 0 ? slopes.AsSpan(0, count) : throw new ArgumentException("A slope needs two different x.", nameof(x));
    }
}
