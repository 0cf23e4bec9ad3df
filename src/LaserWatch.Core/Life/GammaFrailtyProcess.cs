using MathNet.Numerics;
using MathNet.Numerics.LinearAlgebra;
using MathNet.Numerics.Optimization;

namespace LaserWatch.Life;

/// <summary>The inverse-Gaussian process with a gamma frailty: unit by unit, the survival function of every step is raised to 1/z.</summary>
/// <param name="Rate">θ of the process at z = 1.</param>
/// <param name="Evenness">η of the process at z = 1.</param>
/// <param name="Frailty">ξ, the variance of z, whose mean is 1.</param>
/// <remarks>
/// Morita et al., Qual. Reliab. Engng Int. 37 (2021) 763 (as quoted; the paper was not at hand). A gamma law for z and the hazards of n steps
/// divided by z make the posterior of z proportional to z^(1/ξ − n − 1)·exp(−z/ξ − S/z), with S the summed cumulative hazards of the steps; the
/// likelihood follows from it, and gives the published figures. Here to reproduce those: <see cref="UnitRateProcess"/>, in which units differ in their rates, fits the same data far better.
/// </remarks>
public sealed record GammaFrailtyProcess(double Rate, double Evenness, double Frailty, double LogLikelihood)
{
    /// <summary>Akaike's criterion of the three parameters.</summary>
    public double Aic => 6 - (2 * LogLikelihood);

    /// <summary>By maximum likelihood over all units.</summary>
    /// <exception cref="ArgumentException">A unit with fewer than two readings, or one that does not rise.</exception>
    public static GammaFrailtyProcess Fit(IReadOnlyList<DegradationPath> units)
    {
        var steps = units.Select(u => u.Steps()).ToList();
        var start = InverseGaussianProcess.Fit(units);
        var least = NelderMeadSimplex.Minimum(
            ObjectiveFunction.Value(p => -LogLikelihoodOf(steps, Math.Exp(p[0]), Math.Exp(p[1]), Math.Exp(p[2]))),
            Vector<double>.Build.DenseOfArray([Math.Log(start.Rate), Math.Log(start.Evenness), Math.Log(0.1)]), 1e-9, 5000);
        var found = least.MinimizingPoint;
        return new(Math.Exp(found[0]), Math.Exp(found[1]), Math.Exp(found[2]), -least.FunctionInfoAtMinimum.Value);
    }

    internal static double LogLikelihoodOf(List<(double Time, double Growth)[]> units, double rate, double evenness, double frailty)
    {
        var sum = 0.0;
        var shape = 1 / frailty;
        foreach (var steps in units)
        {
            var hazards = 0.0;
            foreach (var (time, growth) in steps)
            {
                var law = InverseGaussianProcess.StepLaw(rate, evenness, time);
                var survival = law.LogSurvival(growth);
                sum += law.LogDensity(growth) - survival;
                hazards -= survival;
            }

            var total = hazards;
            sum += LogIntegral.Over(u => ((shape - steps.Length) * u) - (Math.Exp(u) * shape) - (total * Math.Exp(-u)), -6, 6)
                + (shape * Math.Log(shape)) - SpecialFunctions.GammaLn(shape);
        }

        return sum;
    }
}
