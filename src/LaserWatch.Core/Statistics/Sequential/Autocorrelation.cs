using MathNet.Numerics.Distributions;
using MathNet.Numerics.Statistics;

namespace LaserWatch.Statistics;

/// <summary>Autocorrelation of evenly spaced samples that a few wild values cannot upset.</summary>
public static class Autocorrelation
{
    /// <summary>The correlation of samples one apart, corrected for the bias of short stretches; −0.99 … 0.99; 0 where all samples are equal.</summary>
    /// <remarks>
    /// Least squares over the pairs in which neither is farther than 4 robust σ (1.4826 × median absolute deviation) from the median,
    /// so that a wild value takes no part. The bias −(1 + 3φ)/n (Kendall 1954, Marriott and Pope 1954, Biometrika 41; from memory) is
    /// solved for: φ = (n·φ̂ + 1)/(n − 3). Standard error √((1 − φ²)/n).
    /// </remarks>
    /// <param name="samples">At least 10, in time order, without gaps.</param>
    /// <exception cref="ArgumentException">Fewer than 10 samples.</exception>
    public static double LagOne(ReadOnlySpan<double> samples)
    {
        if (samples.Length < 10)
            throw new ArgumentException("An autocorrelation needs at least ten samples.", nameof(samples));
        var values = samples.ToArray();
        var median = values.Median();
        var spread = 1.4826 * Array.ConvertAll(values, value => Math.Abs(value - median)).Median();
        bool Wild(double value) => spread > 0 && Math.Abs(value - median) > 4 * spread;

        var (count, x, y, xx, xy) = (0, 0.0, 0.0, 0.0, 0.0);
        for (var n = 1; n < values.Length; n++)
        {
            if (Wild(values[n - 1]) || Wild(values[n]))
                continue;
            var (before, after) = (values[n - 1] - median, values[n] - median);
            count++;
            x += before;
            y += after;
            xx += before * before;
            xy += before * after;
        }

        var square = xx - x * x / count;
        if (count < 5 || !(square > 0))
            return 0;
        var raw = (xy - x * y / count) / square;
        return Math.Clamp((count * raw + 1) / (count - 3), -0.99, 0.99);
    }

    /// <summary>The Gaussian rank autocorrelation at any lag, without correction; 0 where all samples are equal.</summary>
    /// <remarks>
    /// Pearson's correlation of the normal scores of the ranks: Boudt, Cornelissen and Croux 2012, Statistics and Computing 22:471 (from memory).
    /// For looking whether errors are white; on short stretches it leans to 0.
    /// </remarks>
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
