using MathNet.Numerics.Distributions;
using MathNet.Numerics.RootFinding;

namespace LaserWatch.Life;

/// <summary>When a unit that ages by an inverse-Gaussian process will reach a level, with what is not known of its rate and evenness mixed in.</summary>
/// <remarks>
/// As the process only grows, it has crossed by a time exactly when it is above the level then: no first-passage formula is needed.
/// What is known of the unit comes as weights over its rate; for each rate the evenness is known, or has a gamma law.
/// </remarks>
public sealed class CrossingLaw
{
    private const int Rates = 121;
    private const int Evennesses = 15;

    private readonly double _now;
    private readonly double _missing;
    private readonly List<(double Rate, double Evenness, double Weight)> _mixture = [];

    private CrossingLaw(double now, double missing) => (_now, _missing) = (now, missing);

    /// <summary>From this unit alone, with flat priors on the logarithms of its rate and its evenness: what a shop with one tube can say.</summary>
    /// <exception cref="ArgumentException">Fewer than four readings, or one that does not rise.</exception>
    public static CrossingLaw Alone(DegradationPath seen, double level)
    {
        var sums = new StepSums(seen);
        if (sums.Count < 3)
            throw new ArgumentException($"Unit {seen.Unit} has {sums.Count} steps: three are the least that tell a rate and its unevenness.", nameof(seen));
        return Of(
            seen, level,
            rate => (sums.Count * Math.Log(rate)) - (sums.Count * Math.Log(sums.Unevenness(rate)) / 2),
            rate => [.. Enumerable.Range(0, Evennesses).Select(i =>
                (Gamma.InvCDF(sums.Count / 2.0, sums.Unevenness(rate) / 2, (i + 0.5) / Evennesses), 1.0 / Evennesses))]);
    }

    /// <summary>Probability that the level is reached by a time.</summary>
    public double Probability(double time)
    {
        var ahead = time - _now;
        if (_missing <= 0)
            return 1;
        if (ahead <= 0)
            return 0;
        var sum = 0.0;
        foreach (var (rate, evenness, weight) in _mixture)
            sum += weight * (1 - InverseGaussianProcess.StepLaw(rate, evenness, ahead).Cumulative(_missing));
        return sum;
    }

    /// <summary>The time by which the level is reached with a probability above 0 and below 1; not before what was seen.</summary>
    public double Quantile(double probability)
    {
        if (_missing <= 0)
            return _now;
        var step = _missing / _mixture.Sum(m => m.Weight * m.Rate);
        var low = step;
        while (Probability(_now + low) > probability)
            low /= 2;
        var high = step;
        while (Probability(_now + high) < probability)
            high *= 2;
        return _now + Brent.FindRoot(t => Probability(_now + t) - probability, low, high, 1e-9 * step, 200);
    }

    /// <param name="logWeight">Of a rate, by the logarithm of the rate.</param>
    internal static CrossingLaw Of(
        DegradationPath seen, double level, Func<double, double> logWeight, Func<double, IReadOnlyList<(double Evenness, double Weight)>> evennesses)
    {
        var centre = new StepSums(seen).LogRate;
        var points = Enumerable.Range(0, Rates).Select(i => Math.Exp(centre + (2.0 * ((2.0 * i / (Rates - 1)) - 1)))).ToList();
        var logs = points.ConvertAll(rate => logWeight(rate));
        var highest = logs.Max();
        var total = logs.Sum(l => Math.Exp(l - highest));
        var law = new CrossingLaw(seen.Times[^1], level - seen.Values[^1]);
        for (var i = 0; i < Rates; i++)
        {
            var weight = Math.Exp(logs[i] - highest) / total;
            if (weight < 1e-7)
                continue;
            foreach (var (evenness, part) in evennesses(points[i]))
                law._mixture.Add((points[i], evenness, weight * part));
        }

        return law;
    }
}
