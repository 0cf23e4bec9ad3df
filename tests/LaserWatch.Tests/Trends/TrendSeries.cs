using System.Globalization;

namespace LaserWatch.Trends;

/// <summary>Published series, copied from the sources named in the file.</summary>
internal static class TrendSeries
{
    private static readonly ILookup<string, (double X, double Y)> All =
        File.ReadLines(Path.Combine(AppContext.BaseDirectory, "Trends", "trend-series.csv")).Skip(1)
            .Select(line => line.Split(','))
            .ToLookup(f => f[0], f => (double.Parse(f[1], CultureInfo.InvariantCulture), double.Parse(f[2], CultureInfo.InvariantCulture)));

    public static (double[] X, double[] Y) Named(string name) =>
        ([.. All[name].Select(p => p.X)], [.. All[name].Select(p => p.Y)]);
}
