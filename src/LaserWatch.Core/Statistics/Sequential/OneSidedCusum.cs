using MathNet.Numerics.Distributions;
using MathNet.Numerics.LinearAlgebra;

namespace LaserWatch.Statistics;

/// <summary>
/// Run lengths of the upper one-sided CUSUM S ← max(0, S + x − k), alarm at S &gt; h, on independent normal samples of variance 1.
/// </summary>
/// <remarks>
/// The integral equation of Page (1954, Biometrika 41:100) by Gauss–Legendre quadrature (Vance 1986, J. Quality Technology 18:189,
/// solves it so; sources from memory). The solution is smooth within [0, h], so the relative error is that of the linear solution:
/// about 1e-16 times the run length, below 1e-6 up to 1e9.
/// </remarks>
internal sealed class OneSidedCusum
{
    private readonly double _k;
    private readonly double _h;
    private readonly GaussLegendreGrid _grid;

    public OneSidedCusum(double k, double h)
    {
        _k = k;
        _h = h;
        _grid = new GaussLegendreGrid(0, h, kernelSigma: 1);
    }

    /// <summary>Beyond this a run length is lost in the rounding of double precision.</summary>
    public const double Solvable = 1e12;

    /// <summary>Mean samples to the alarm from S = 0 and from S = <paramref name="start"/>, where the mean is <paramref name="shift"/>.</summary>
    public (double FromZero, double FromStart) RunLength(double shift, double start)
    {
        var rough = Siegmund(_k, _h, shift);
        if (rough > Solvable)
            return (rough, rough);
        var values = Solve(shift);
        return (values[_grid.Count], start > 0 ? At(start, shift, values) : values[_grid.Count]);
    }

    /// <summary>Mean samples to the alarm after a shift that comes when the chart has long been in control without an alarm.</summary>
    /// <remarks>The conditional steady-state delay: Crosier 1986, Technometrics 28:187; Pollak and Tartakovsky 2009 (from memory).</remarks>
    public double SteadyStateRunLength(double shift)
    {
        if (Siegmund(_k, _h, shift) is var rough && rough > Solvable)
            return rough;
        var values = Solve(shift);
        var density = new CusumDensity(_k, _grid, start: 0);
        density.Settle(shift: 0);
        return density.Mean(values);
    }

    /// <summary>P(run length &gt; n) for n = 1, 2, …, where sample n has the mean <paramref name="meanAt"/>(n); without end.</summary>
    public IEnumerable<double> Survival(double start, Func<int, double> meanAt)
    {
        var density = new CusumDensity(_k, _grid, start);
        for (var n = 1; ; n++)
            yield return density.Step(meanAt(n));
    }

    /// <summary>
    /// Siegmund's approximation, ARL ≈ (exp(−2Δb) + 2Δb − 1)/(2Δ²) with Δ = shift − k and b = h + 1.166; within some 2 % at k = 0.5, h ≥ 3.
    /// </summary>
    /// <remarks>Siegmund 1985, Sequential Analysis, ch. 2; as printed in Montgomery, Introduction to Statistical Quality Control (from memory).</remarks>
    public static double Siegmund(double k, double h, double shift)
    {
        var b = h + 1.166;
        var drift = shift - k;
        return Math.Abs(drift * b) < 1e-6 ? b * b : (Math.Exp(-2 * drift * b) + 2 * drift * b - 1) / (2 * drift * drift);
    }

    /// <summary>The run length from each node, and last from 0.</summary>
    private double[] Solve(double shift)
    {
        var n = _grid.Count;
        var matrix = Matrix<double>.Build.Dense(n + 1, n + 1, (i, j) =>
        {
            var from = i < n ? _grid.Nodes[i] : 0;
            var step = j < n
                ? _grid.Weights[j] * Normal.PDF(0, 1, _grid.Nodes[j] - from + _k - shift)
                : Normal.CDF(0, 1, _k - shift - from);
            return (i == j ? 1 : 0) - step;
        });
        return matrix.LU().Solve(Vector<double>.Build.Dense(n + 1, 1)).AsArray();
    }

    private double At(double start, double shift, double[] values)
    {
        var sum = 1 + values[_grid.Count] * Normal.CDF(0, 1, _k - shift - start);
        for (var j = 0; j < _grid.Count; j++)
            sum += _grid.Weights[j] * Normal.PDF(0, 1, _grid.Nodes[j] - start + _k - shift) * values[j];
        return sum;
    }
}
