using MathNet.Numerics;
using MathNet.Numerics.LinearAlgebra;
using MathNet.Numerics.Optimization;

namespace LaserWatch.Life;

/// <summary>Inverse-Gaussian processes whose rates differ from unit to unit by a gamma distribution: what a population says of the next unit.</summary>
/// <param name="Rate">Mean rate, growth by time.</param>
/// <param name="Evenness">η of all units.</param>
/// <param name="Spread">Squared coefficient of variation of the rates.</param>
/// <remarks>After Z.-S. Ye and N. Chen, Technometrics 56 (2014) 302, random-drift form with a gamma instead of a normal rate (from memory).</remarks>
public sealed record UnitRateProcess(double Rate, double Evenness, double Spread, double LogLikelihood)
{
    public double Aic => 6 - (2 * LogLikelihood);

    /// <summary>By maximum likelihood over all units.</summary>
    /// <exception cref="ArgumentException">A unit with fewer than two readings, or one that does not rise.</exception>
    public static UnitRateProcess Fit(IReadOnlyList<DegradationPath> units)
    {
        var sums = units.Select(u => new StepSums(u)).ToList();
        var start = InverseGaussianProcess.Fit(units);
        var least = NelderMeadSimplex.Minimum(
            ObjectiveFunction.Value(p => -sums.Sum(s => LogLikelihoodOf(s, Math.Exp(p[0]), Math.Exp(p[1]), Math.Exp(p[2])))),
            Vector<double>.Build.DenseOfArray([Math.Log(start.Rate), Math.Log(start.Evenness), Math.Log(0.05)]), 1e-9, 5000);
        var found = least.MinimizingPoint;
        return new(Math.Exp(found[0]), Math.Exp(found[1]), Math.Exp(found[2]), -least.FunctionInfoAtMinimum.Value);
    }

    /// <summary>When a further unit, seen up to now, will reach a level; the population's figures are taken as known.</summary>
    public CrossingLaw Predict(DegradationPath seen, double level)
    {
        var sums = new StepSums(seen);
        return CrossingLaw.Of(seen, level, rate => LogPrior(rate) + sums.LogLikelihood(rate, Evenness), _ => [(Evenness, 1)]);
    }

    // In the logarithm of the rate, hence without the −1 of the gamma density.
    private static double LogPriorOf(double rate, double mean, double spread)
    {
        var (shape, z) = (1 / spread, rate / mean);
        return (shape * Math.Log(shape * z)) - (shape * z) - SpecialFunctions.GammaLn(shape);
    }

    private static double LogLikelihoodOf(StepSums sums, double mean, double evenness, double spread) =>
        LogIntegral.Over(u => LogPriorOf(Math.Exp(u), mean, spread) + sums.LogLikelihood(Math.Exp(u), evenness), sums.LogRate - 2.5, sums.LogRate + 2.5);

    private double LogPrior(double rate) => LogPriorOf(rate, Rate, Spread);
}
