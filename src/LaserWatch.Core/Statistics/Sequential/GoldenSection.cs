namespace LaserWatch.Statistics;

/// <summary>Golden-section search (Kiefer 1953, from memory) for the least value of a function with one valley.</summary>
internal static class GoldenSection
{
    private const double Ratio = 0.6180339887498949;

    public static double Minimum(Func<double, double> function, double from, double to, double tolerance)
    {
        var (a, b) = (to - Ratio * (to - from), from + Ratio * (to - from));
        var (valueA, valueB) = (function(a), function(b));
        while (to - from > tolerance)
        {
            if (valueA < valueB)
            {
                (to, b, valueB) = (b, a, valueA);
                a = to - Ratio * (to - from);
                valueA = function(a);
            }
            else
            {
                (from, a, valueA) = (a, b, valueB);
                b = from + Ratio * (to - from);
                valueB = function(b);
            }
        }

        return (from + to) / 2;
    }
}
