namespace LaserWatch.Life;

/// <summary>Ageing that only ever grows: each step is inverse-Gaussian with mean θ·Δt and shape η·(θ·Δt)².</summary>
/// <param name="Rate">θ, growth by time.</param>
/// <param name="Evenness">η, by growth: the higher, the steadier; the variance of a step is mean/η.</param>
/// <param name="LogLikelihood">At the estimates.</param>
/// <remarks>Parametrisation of Morita et al., Qual. Reliab. Engng Int. 37 (2021) 763, without frailty; X. Wang and D. Xu, Technometrics 52 (2010) 188 (both from memory).</remarks>
public sealed record InverseGaussianProcess(double Rate, double Evenness, double LogLikelihood)
{
    /// <summary>Akaike's criterion of the two parameters.</summary>
    public double Aic => 4 - (2 * LogLikelihood);

    /// <summary>By maximum likelihood over all units, in closed form.</summary>
    /// <exception cref="ArgumentException">A unit with fewer than two readings, or one that does not rise.</exception>
    public static InverseGaussianProcess Fit(IReadOnlyList<DegradationPath> units)
    {
        var steps = units.SelectMany(u => u.Steps()).ToList();
        var rate = steps.Sum(s => s.Growth) / steps.Sum(s => s.Time);
        var evenness = 1 / steps.Average(s => (s.Growth - (rate * s.Time)) * (s.Growth - (rate * s.Time)) / s.Growth);
        return new(rate, evenness, steps.Sum(s => StepLaw(rate, evenness, s.Time).LogDensity(s.Growth)));
    }

    /// <summary>The law of the growth within a time.</summary>
    public static InverseGaussian StepLaw(double rate, double evenness, double time) =>
        new(rate * time, evenness * rate * time * rate * time);
}
