namespace LaserWatch.Trends;

/// <summary>What Kendall's and Sen's statistics share: the variance of S, its correction for ties, medians.</summary>
internal static class RankSums
{
    /// <summary>Variance of Kendall's S of n different values in random order: n(n − 1)(2n + 5)/18 (Kendall, Rank Correlation Methods; from memory).</summary>
    public static double TieFreeVariance(double n) => n * (n - 1) * ((2 * n) + 5) / 18;

    /// <summary>What groups of equal values take off it.</summary>
    public static double TieCorrection(ReadOnlySpan<double> values)
    {
        var sorted = values.ToArray();
        Array.Sort(sorted);
        var sum = 0.0;
        for (var start = 0; start < sorted.Length;)
        {
            var end = start + 1;
            while (end < sorted.Length && sorted[end] == sorted[start])
                end++;
            sum += TieFreeVariance(end - start);
            start = end;
        }

        return sum;
    }

    public static double MedianOfSorted(ReadOnlySpan<double> sorted) =>
        sorted.Length % 2 == 1 ? sorted[sorted.Length / 2] : (sorted[(sorted.Length / 2) - 1] + sorted[sorted.Length / 2]) / 2;

    public static void RequireFinite(ReadOnlySpan<double> values, string name)
    {
        foreach (var value in values)
        {
            if (!double.IsFinite(value))
                throw new ArgumentException("A value is not finite.", name);
        }
    }
}
