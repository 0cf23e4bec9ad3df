using MathNet.Numerics.Distributions;

namespace LaserWatch.Statistics;

/// <summary>
/// Where a one-sided CUSUM stands if it has not alarmed yet: an atom at 0 and a density on (0, h], carried from sample to sample.
/// </summary>
/// <remarks>The forward form of Page's recursion on Gauss–Legendre nodes; its sums are the run-length distribution (Woodall 1983, Technometrics 25:295, from memory).</remarks>
internal sealed class CusumDensity(double k, GaussLegendreGrid grid, double start)
{
    private double[] _density = new double[grid.Count];
    private double[] _next = new double[grid.Count];
    private double _atom = 1;
    private double _from = start;
    private double[]? _kernel;
    private double _kernelMean = double.NaN;
    private double[] _toZero = [];

    /// <summary>Takes one sample of the given mean; P(no alarm yet).</summary>
    public double Step(double mean)
    {
        if (mean != _kernelMean)
            Tabulate(mean);
        var n = grid.Count;
        var alive = 0.0;
        var atom = _atom * Normal.CDF(0, 1, k - mean - _from);
        for (var j = 0; j < n; j++)
            atom += _density[j] * grid.Weights[j] * _toZero[j];
        for (var i = 0; i < n; i++)
        {
            var sum = _atom * Normal.PDF(0, 1, grid.Nodes[i] - _from + k - mean);
            for (var j = 0; j < n; j++)
                sum += _kernel![i * n + j] * _density[j];
            _next[i] = sum;
            alive += sum * grid.Weights[i];
        }

        (_density, _next) = (_next, _density);
        _atom = atom;
        _from = 0;
        return alive + atom;
    }

    /// <summary>Goes on at one mean until the shape no longer changes: the quasi-stationary distribution, of total 1.</summary>
    public void Settle(double shift)
    {
        var last = 0.0;
        for (var n = 0; n < 20_000; n++)
        {
            var alive = Step(shift);
            Scale(1 / alive);
            var change = Math.Abs(_atom - last);
            last = _atom;
            if (n > 10 && change < 1e-13)
                return;
        }
    }

    /// <param name="values">One for each node, and last for 0.</param>
    public double Mean(double[] values)
    {
        var sum = _atom * values[grid.Count];
        for (var j = 0; j < grid.Count; j++)
            sum += _density[j] * grid.Weights[j] * values[j];
        return sum;
    }

    private void Scale(double factor)
    {
        _atom *= factor;
        for (var j = 0; j < _density.Length; j++)
            _density[j] *= factor;
    }

    private void Tabulate(double mean)
    {
        var n = grid.Count;
        _kernel ??= new double[n * n];
        _kernelMean = mean;
        if (_toZero.Length == 0)
            _toZero = new double[n];
        for (var j = 0; j < n; j++)
        {
            _toZero[j] = Normal.CDF(0, 1, k - mean - grid.Nodes[j]);
            for (var i = 0; i < n; i++)
                _kernel[i * n + j] = grid.Weights[j] * Normal.PDF(0, 1, grid.Nodes[i] - grid.Nodes[j] + k - mean);
        }
    }
}
