namespace LaserWatch.Detection.Tube;

/// <summary>Where most of a small set of values lies, whatever the rest do.</summary>
public static class RobustLocation
{
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

    /// <summary>The median; sorts in place.</summary>
    public static double Median(Span<double> values)
    {
        values.Sort();
        var middle = values.Length / 2;
        return values.Length % 2 == 1 ? values[middle] : (values[middle - 1] + values[middle]) / 2;
    }

    private static double Mean(ReadOnlySpan<double> values)
    {
        double sum = 0;
        foreach (var value in values)
            sum += value;
        return sum / values.Length;
    }
}
