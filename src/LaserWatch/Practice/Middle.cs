namespace LaserWatch.Practice;

/// <summary>The median, and how far values stray from it.</summary>
internal static class Middle
{
    /// <param name="values">At least one; they keep their order.</param>
    public static double Of(IReadOnlyCollection<double> values)
    {
        var sorted = values.Order().ToArray();
        var half = sorted.Length / 2;
        return sorted.Length % 2 == 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
    }

    /// <summary>The median distance from the median, scaled to a standard deviation where the values are normally distributed.</summary>
    public static double SpreadOf(IReadOnlyCollection<double> values)
    {
        var middle = Of(values);
        return 1.4826 * Of([.. values.Select(v => Math.Abs(v - middle))]);
    }
}
