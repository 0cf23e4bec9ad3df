using System.Numerics;
using System.Runtime.InteropServices;
using LaserWatch.Trends;

namespace LaserWatch.Statistics;

/// <summary>Where most of a small set of values lies, whatever the rest do.</summary>
public static class RobustLocation
{
    // Fewer are sorted as quickly, and of more each count takes too long.
    private const int LeastToCount = 6;
    private const int MostToCount = 64;

    /// <summary>
    /// The mean of the values near the middle of the shortest half: corners and edges that pull up to half of a block down do
    /// not move it, and quantised readings still average.
    /// </summary>
    /// <remarks>
    /// Shortest half: Rousseeuw and Leroy, Robust Regression and Outlier Detection (1987), section 4.3, from memory; then one
    /// re-weighting step, values within 2.5 robust standard deviations of its centre.
    /// </remarks>
    /// <param name="values">Any unit; sorted in place; at least one.</param>
    /// <returns>The location, and the robust standard deviation of one value about it, in the same unit.</returns>
    public static (double Location, double Deviation) Of(Span<double> values)
    {
        values.Sort();
        var half = (values.Length / 2) + 1;
        var best = 0;
        for (var i = 1; i + half <= values.Length; i++)
        {
            if (values[i + half - 1] - values[i] < values[best + half - 1] - values[best])
                best = i;
        }

        var window = values.Slice(best, half);
        var centre = Mean(window);
        // A normal sample's shortest half is 1.349 standard deviations long; a block all of one value has none.
        var deviation = half < values.Length || values.Length > 1 ? (window[^1] - window[0]) / 1.349 : 0;
        var reach = Math.Max(2.5 * deviation, 1e-9 * Math.Abs(centre));
        double sum = 0;
        var count = 0;
        foreach (var value in values)
        {
            if (Math.Abs(value - centre) > reach)
                continue;
            sum += value;
            count++;
        }

        return count == 0 ? (centre, deviation) : (sum / count, deviation);
    }

    /// <summary>The median of finite values; may change their order.</summary>
    public static double Median(Span<double> values)
    {
        // Of zeros only sorting says which sign the one in the middle has.
        if (values.Length is >= LeastToCount and <= MostToCount && MedianByCounting(values) is var median && median != 0)
            return median;
        values.Sort();
        return RankSums.MedianOfSorted(values);
    }

    /// <summary>The median without an order: whoever has half of the others below is it. Sorting some dozen values costs several times as much, in guesses that fail.</summary>
    private static double MedianByCounting(ReadOnlySpan<double> values)
    {
        var middle = values.Length / 2;
        var (low, high) = (double.NegativeInfinity, double.PositiveInfinity);
        foreach (var value in values)
        {
            // Each that was too low or too high rules out all beyond it.
            if (value <= low || value >= high)
                continue;
            var (below, upTo) = Count(values, value);
            if (below > middle)
                high = value;
            else if (upTo <= middle)
                low = value;
            else
                return values.Length % 2 == 1 ? value : ((below < middle ? value : HighestBelow(values, value)) + value) / 2;
        }

        return 0;
    }

    private static (int Below, int UpTo) Count(ReadOnlySpan<double> values, double limit)
    {
        var lanes = MemoryMarshal.Cast<double, Vector<double>>(values);
        var limits = new Vector<double>(limit);
        var (below, upTo) = (Vector<long>.Zero, Vector<long>.Zero);
        foreach (var lane in lanes)
        {
            // True is −1.
            below -= Vector.LessThan(lane, limits);
            upTo -= Vector.LessThanOrEqual(lane, limits);
        }

        var (countBelow, countUpTo) = ((int)Vector.Sum(below), (int)Vector.Sum(upTo));
        foreach (var value in values[(lanes.Length * Vector<double>.Count)..])
        {
            countBelow += value < limit ? 1 : 0;
            countUpTo += value <= limit ? 1 : 0;
        }

        return (countBelow, countUpTo);
    }

    private static double HighestBelow(ReadOnlySpan<double> values, double limit)
    {
        var highest = double.NegativeInfinity;
        foreach (var value in values)
            highest = value < limit ? Math.Max(highest, value) : highest;
        return highest;
    }

    private static double Mean(ReadOnlySpan<double> values)
    {
        double sum = 0;
        foreach (var value in values)
            sum += value;
        return sum / values.Length;
    }
}
