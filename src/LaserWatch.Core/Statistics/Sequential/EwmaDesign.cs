using MathNet.Numerics.Distributions;
using MathNet.Numerics.LinearAlgebra;

namespace LaserWatch.Statistics;

/// <summary>The numbers of a two-sided EWMA chart with fixed limits, for samples standardised to mean 0 and standard deviation 1.</summary>
/// <remarks>
/// Roberts 1959, Technometrics 1:239; run lengths by the integral equation of Crowder 1987, Technometrics 29:401 (both from memory)
/// on Gauss–Legendre nodes, exact for independent normal samples to about 1e-6.
/// </remarks>
/// <param name="Smoothing">λ, weight of the newest sample; above 0, at most 1.</param>
/// <param name="Width">L, the limits' distance in standard deviations of the average.</param>
public sealed record EwmaDesign(double Smoothing, double Width)
{
    /// <summary>The limits' distance from the mean in σ of a sample: L·√(λ/(2 − λ)).</summary>
    public double Limit => Width * Math.Sqrt(Smoothing / (2 - Smoothing));

    /// <summary>The chart with the given λ and mean time between false alarms; L is solved to 1e-9.</summary>
    /// <param name="smoothing">λ; 0.005 … 1.</param>
    /// <param name="runLengthInControl">Mean samples between false alarms; 10 … 1e10.</param>
    /// <exception cref="ArgumentOutOfRangeException">An argument is outside its range.</exception>
    public static EwmaDesign For(double smoothing, double runLengthInControl)
    {
        CusumDesign.RequireRunLength(runLengthInControl);
        if (!(smoothing is >= 0.005 and <= 1))
            throw new ArgumentOutOfRangeException(nameof(smoothing), smoothing, "A smoothing weight is 0.005 to 1.");
        var width = ThresholdSearch.Solve(
            width => new EwmaDesign(smoothing, width).RunLength(0),
            runLengthInControl,
            guess: Normal.InvCDF(0, 1, 1 - 0.5 / runLengthInControl),
            least: 0.05);
        return new EwmaDesign(smoothing, width);
    }

    /// <summary>The chart with the λ that finds a shift of the given size soonest, of all λ from 0.01 to 1, to some 1 %.</summary>
    /// <exception cref="ArgumentOutOfRangeException">An argument is outside its range.</exception>
    public static EwmaDesign ForShift(double shiftSigmas, double runLengthInControl)
    {
        if (!(Math.Abs(shiftSigmas) >= 0.1 && double.IsFinite(shiftSigmas)))
            throw new ArgumentOutOfRangeException(nameof(shiftSigmas), shiftSigmas, "An EWMA is designed for a shift of at least 0.1 σ.");
        var best = GoldenSection.Minimum(
            logarithm => For(Math.Exp(logarithm), runLengthInControl).RunLength(shiftSigmas), Math.Log(0.01), 0, tolerance: 0.02);
        return For(Math.Exp(best), runLengthInControl);
    }

    /// <summary>Mean samples to the alarm from the centre, where the mean is <paramref name="shiftSigmas"/> all along (zero-state ARL).</summary>
    public double RunLength(double shiftSigmas)
    {
        var (grid, values) = Solve(shiftSigmas);
        var sum = 1.0;
        for (var j = 0; j < grid.Count; j++)
            sum += grid.Weights[j] * Kernel(0, grid.Nodes[j], shiftSigmas) * values[j];
        return sum;
    }

    /// <summary>Mean samples to the alarm where mean and σ were learned from so many independent samples, averaged over what they may have come out as.</summary>
    /// <remarks>The average leans on the machines whose σ came out large: half of them alarm sooner. See <see cref="LearnedParameters"/>.</remarks>
    /// <exception cref="ArgumentOutOfRangeException">Fewer than 5 samples.</exception>
    public double RunLengthLearned(int learned, double shiftSigmas = 0) =>
        LearnedParameters.Average(learned, (mean, sigma) => new EwmaDesign(Smoothing, Width * sigma).RunLength(shiftSigmas - mean));

    /// <summary>Mean samples to the alarm where the shift comes after a long time in control without an alarm (conditional steady state).</summary>
    public double SteadyStateRunLength(double shiftSigmas)
    {
        var (grid, values) = Solve(shiftSigmas);
        var density = Vector<double>.Build.Dense(grid.Count, 1);
        var step = Matrix<double>.Build.Dense(grid.Count, grid.Count, (i, j) => grid.Weights[j] * Kernel(grid.Nodes[j], grid.Nodes[i], 0));
        var weights = Vector<double>.Build.Dense(grid.Weights);
        for (var n = 0; n < 20_000; n++)
        {
            var next = step * density;
            next /= next.DotProduct(weights);
            var change = (next - density).AbsoluteMaximum();
            density = next;
            if (change < 1e-12)
                break;
        }

        return density.PointwiseMultiply(weights).DotProduct(Vector<double>.Build.Dense(values));
    }

    private (GaussLegendreGrid Grid, double[] Values) Solve(double shift)
    {
        var grid = new GaussLegendreGrid(-Limit, Limit, Smoothing);
        var matrix = Matrix<double>.Build.Dense(grid.Count, grid.Count,
            (i, j) => (i == j ? 1 : 0) - grid.Weights[j] * Kernel(grid.Nodes[i], grid.Nodes[j], shift));
        return (grid, matrix.LU().Solve(Vector<double>.Build.Dense(grid.Count, 1)).AsArray());
    }

    private double Kernel(double from, double to, double shift) =>
        Normal.PDF(0, 1, (to - (1 - Smoothing) * from) / Smoothing - shift) / Smoothing;
}
