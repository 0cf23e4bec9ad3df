using MathNet.Numerics.Distributions;
using MathNet.Numerics.Statistics;

namespace LaserWatch.Trends;

/// <summary>The rank test for a trend that goes one way, whatever its shape, with correction for ties and for autocorrelation.</summary>
/// <param name="S">Pairs that rise less pairs that fall.</param>
/// <param name="Variance">Of S under no trend, ties and autocorrelation taken in.</param>
/// <param name="Factor">n/n* of Hamed and Rao: by how much autocorrelation enlarged the variance; 1 where it did not.</param>
/// <param name="Z">Standardised, with continuity correction.</param>
/// <param name="P">Two-sided; exact up to ten different values without autocorrelation, else by the normal distribution.</param>
/// <param name="Tau">S over the number of pairs (Kendall's tau-a).</param>
/// <remarks>
/// H. B. Mann, Econometrica 13 (1945) 245; M. G. Kendall, Rank Correlation Methods; K. H. Hamed and A. R. Rao, J. Hydrol. 204 (1998) 182.
/// Two departures from the last: only the first few lags are used and the factor never falls below 1, because with all lags chance
/// correlations can deflate the variance and invent significance (found on the published 353-value series beside the test: n/n* = 0.053).
/// </remarks>
public sealed record MannKendall(double S, double Variance, double Factor, double Z, double P, double Tau)
{
    /// <summary>O(n²) time: 5000 values take some 25 million comparisons.</summary>
    public const int MostPoints = 5000;

    private const int MostForExact = 10;

    /// <summary>Tests values in order of their times; the times themselves need not be even.</summary>
    /// <param name="y">At least 3, finite.</param>
    /// <param name="lags">Autocorrelations looked at, those beyond 95 % limits only; 0: taken as independent.</param>
    /// <exception cref="ArgumentException">Fewer than 3 values, too many, or one that is not finite.</exception>
    public static MannKendall Test(ReadOnlySpan<double> y, int lags = 3)
    {
        var n = y.Length;
        if (n is < 3 or > MostPoints)
            throw new ArgumentException($"The test takes 3 to {MostPoints} values, not {n}.", nameof(y));
        ArgumentOutOfRangeException.ThrowIfNegative(lags);
        RankSums.RequireFinite(y, nameof(y));

        var s = 0L;
        for (var i = 0; i < n; i++)
        {
            for (var j = i + 1; j < n; j++)
                s += y[j] > y[i] ? 1 : y[j] < y[i] ? -1 : 0;
        }

        var ties = RankSums.TieCorrection(y);
        var factor = lags == 0 ? 1 : Math.Max(1, EffectiveSizeFactor(y, lags));
        var variance = (RankSums.TieFreeVariance(n) - ties) * factor;
        var z = variance > 0 ? (s - Math.Sign(s)) / Math.Sqrt(variance) : 0;
        var p = factor == 1 && ties == 0 && n <= MostForExact ? ExactP(n, Math.Abs(s)) : Math.Min(1, 2 * Normal.CDF(0, 1, -Math.Abs(z)));
        return new(s, variance, factor, z, p, s / (n * (n - 1.0) / 2));
    }

    /// <summary>n/n* by the autocorrelations of the ranks of what the robust slope leaves; may be below 1. Hamed and Rao 1998, equation 15 (from memory).</summary>
    internal static double EffectiveSizeFactor(ReadOnlySpan<double> y, int lags)
    {
        var n = y.Length;
        var limit = Normal.InvCDF(0, 1, 0.975) / Math.Sqrt(n);
        var ranks = DetrendedRanks(y);
        var sum = 0.0;
        for (var lag = 1; lag <= Math.Min(lags, n - 1); lag++)
        {
            var correlation = Correlation(ranks, lag);
            if (Math.Abs(correlation) > limit)
                sum += (n - lag) * (n - lag - 1.0) * (n - lag - 2.0) * correlation;
        }

        return 1 + (2 * sum / (n * (n - 1.0) * (n - 2.0)));
    }

    private static double[] DetrendedRanks(ReadOnlySpan<double> y)
    {
        // Beyond what the slope takes at once, every so many points carry it as well.
        var step = ((y.Length - 1) / TheilSen.MostPoints) + 1;
        var picked = (y.Length + step - 1) / step;
        var (x, z) = (new double[picked], new double[picked]);
        for (var i = 0; i < picked; i++)
            (x[i], z[i]) = (i * step, y[i * step]);
        var slope = TheilSen.SlopeOf(x, z);
        var rests = new double[y.Length];
        for (var i = 0; i < rests.Length; i++)
            rests[i] = y[i] - (slope * (i + 1));
        return ArrayStatistics.RanksInplace(rests, RankDefinition.Average);
    }

    private static double Correlation(double[] ranks, int lag)
    {
        var mean = (ranks.Length + 1) / 2.0;
        var (cross, square) = (0.0, 0.0);
        for (var i = 0; i < ranks.Length; i++)
        {
            square += (ranks[i] - mean) * (ranks[i] - mean);
            if (i + lag < ranks.Length)
                cross += (ranks[i] - mean) * (ranks[i + lag] - mean);
        }

        return square > 0 ? cross / square : 0;
    }

    // Orders of n values by their number of inversions (Mahonian numbers): S = pairs - 2 inversions.
    private static double ExactP(int n, long s)
    {
        var pairs = n * (n - 1) / 2;
        var orders = new double[pairs + 1];
        orders[0] = 1;
        for (var k = 2; k <= n; k++)
        {
            for (var inversions = k * (k - 1) / 2; inversions >= 0; inversions--)
            {
                for (var more = 1; more < k && more <= inversions; more++)
                    orders[inversions] += orders[inversions - more];
            }
        }

        var all = 0.0;
        var tail = 0.0;
        for (var inversions = 0; inversions <= pairs; inversions++)
        {
            all += orders[inversions];
            if (pairs - (2 * inversions) >= s)
                tail += orders[inversions];
        }

        return Math.Min(1, 2 * tail / all);
    }
}
