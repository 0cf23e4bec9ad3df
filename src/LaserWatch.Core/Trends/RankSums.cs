namespace LaserWatch.Trends;

/// <summary>What Kendall's and Sen's statistics share: the variance of S, its correction for ties, medians.</summary>
internal static class RankSums
{
    private const int MostRounds = 60;

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

    /// <summary>The median of finite values; changes their order.</summary>
    public static double Median(Span<double> values)
    {
        var middle = values.Length / 2;
        var upper = Select(values, middle);
        if (values.Length % 2 == 1)
            return upper;
        // What is not above it stands before it now.
        var lower = double.NegativeInfinity;
        foreach (var value in values[..middle])
            lower = Math.Max(lower, value);
        return (lower + upper) / 2;
    }

    /// <summary>The value that would stand at a place were the values sorted, which are finite; puts those not above it before it. Of some thousand slopes only a few places are asked for.</summary>
    /// <remarks>Hoare, Algorithm 65: Find, Communications of the ACM 4 (1961) 321, from memory; the middle one of three divides.</remarks>
    /// <param name="mostRounds">What is not found by then is sorted: there are series that defeat it.</param>
    public static double Select(Span<double> values, int place, int mostRounds = MostRounds)
    {
        var (low, high) = (0, values.Length - 1);
        for (var rounds = 0; low < high; rounds++)
        {
            if (rounds == mostRounds)
            {
                values[low..(high + 1)].Sort();
                break;
            }

            var (first, last) = (low, high);
            var divider = MiddleOf(values[low], values[(low + high) / 2], values[high]);
            while (first <= last)
            {
                while (values[first] < divider)
                    first++;
                while (values[last] > divider)
                    last--;
                if (first > last)
                    break;
                (values[first], values[last]) = (values[last], values[first]);
                first++;
                last--;
            }

            if (place <= last)
                high = last;
            else if (place >= first)
                low = first;
            else
                break;
        }

        return values[place];
    }

    public static void RequireFinite(ReadOnlySpan<double> values, string name)
    {
        foreach (var value in values)
        {
            if (!double.IsFinite(value))
                throw new ArgumentException("A value is not finite.", name);
        }
    }

    private static double MiddleOf(double a, double b, double c) => Math.Max(Math.Min(a, b), Math.Min(Math.Max(a, b), c));
}
