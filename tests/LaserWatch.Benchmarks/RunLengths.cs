using LaserWatch.Statistics;

namespace LaserWatch.Benchmarks;

/// <summary>A chart as the simulation sees it.</summary>
public sealed record Chart(Func<double, CusumSide> Update, Action Reset)
{
    public static Chart Of(Cusum chart) => new(chart.Update, chart.Reset);

    public static Chart Of(Ewma chart) => new(chart.Update, chart.Reset);

    public static Chart Of(CusumBank chart) => new(chart.Update, chart.Reset);

    public static Chart Of(ShiftGlr chart) => new(chart.Update, chart.Reset);
}

/// <summary>A mean with its standard error.</summary>
public readonly record struct Estimate(double Mean, double Error)
{
    public static Estimate Of(IReadOnlyCollection<double> values)
    {
        var mean = values.Average();
        var squares = values.Sum(value => (value - mean) * (value - mean));
        return new Estimate(mean, Math.Sqrt(squares / Math.Max(1, values.Count - 1) / values.Count));
    }
}

/// <summary>Run lengths from a fresh start, by simulation.</summary>
public static class RunLengths
{
    /// <param name="chart">A fresh chart.</param>
    /// <param name="meanAt">Mean of sample 1, 2, … in σ.</param>
    /// <param name="runs">How many.</param>
    /// <param name="seed">Same seed, same answer.</param>
    public static Estimate Measure(Chart chart, Func<int, double> meanAt, int runs, int seed)
    {
        var source = new Gaussian(seed);
        var lengths = new double[runs];
        for (var run = 0; run < runs; run++)
        {
            chart.Reset();
            var n = 1;
            while (chart.Update(meanAt(n) + source.Next()) == CusumSide.None)
                n++;
            lengths[run] = n;
        }

        return Estimate.Of(lengths);
    }

    public static Estimate Measure(Chart chart, double shift, int runs, int seed) => Measure(chart, _ => shift, runs, seed);
}
