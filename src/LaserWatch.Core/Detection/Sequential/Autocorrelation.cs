using MathNet.Numerics.Distributions;
using MathNet.Numerics.Statistics;

namespace LaserWatch.Detection.Sequential;

/// <summary>Autocorrelation of evenly spaced samples that a few wild values cannot upset.</summary>
public static class Autocorrelation
{
    /// <summary>The correlation of samples one apart, corrected for the bias of short stretches; −0.99 … 0.99.</summary>
    /// <remarks>
    /// The Gaussian rank correlation of Boudt, Cornelissen and Croux 2012, Statistics and Computing 22:471: Pearson's of the normal scores
    /// of the ranks, as efficient as Pearson's on normal data. The bias −(1 + 3φ)/n (Kendall 1954, Marriott and Pope 1954, Biometrika 41) is taken off.
    /// All sources from memory. Standard error √((1 − φ²)/n).
    /// </remarks>
    /// <param name="samples">At least 10, in time order, without gaps.</param>
    /// <exception cref="ArgumentException">Fewer than 10 samples.</exception>
    public static double LagOne(ReadOnlySpan<double> samples)
    {
        var raw = Rank(samples, lag: 1);
        return Math.Clamp(raw + (1 + 3 * raw) / samples.Length, -0.99, 0.99);
    }

    /// <summary>The Gaussian rank autocorrelation at one lag, as it comes; 0 where all samples are equal.</summary>
    /// <exception cref="ArgumentException">Fewer than 10 samples beyond the lag.</exception>
    public static double Rank(ReadOnlySpan<double> samples, int lag)
    {
        if (lag < 1 || samples.Length < lag + 10)
            throw new ArgumentException("An autocorrelation needs a lag of at least 1 and ten samples more.", nameof(samples));
        var scores = ArrayStatistics.RanksInplace(samples.ToArray(), RankDefinition.Average);
        var (product, square) = (0.0, 0.0);
        for (var n = 0; n < scores.Length; n++)
        {
            scores[n] = Normal.InvCDF(0, 1, scores[n] / (scores.Length + 1));
            square += scores[n] * scores[n];
            if (n >= lag)
                product += scores[n] * scores[n - lag];
        }

        return square > 1e-9 ? product / square : 0;
    }
}
