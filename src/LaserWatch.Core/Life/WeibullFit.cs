using MathNet.Numerics.RootFinding;

namespace LaserWatch.Life;

/// <summary>Weibull distribution of lives, by maximum likelihood from units that failed and units that still ran.</summary>
/// <param name="Scale">Characteristic life, by which 63.2 % have failed; in the unit of the times.</param>
/// <remarks>NIST/SEMATECH e-Handbook 8.4.1.3; profile equation of the shape from W. Nelson, Applied Life Data Analysis (1982) (from memory).</remarks>
public sealed record WeibullFit(double Shape, double Scale, double LogLikelihood)
{
    /// <summary>The time by which a part of all units has failed.</summary>
    public double Quantile(double part) => Scale * Math.Pow(-Math.Log(1 - part), 1 / Shape);

    /// <summary>Part of all units that still run at a time.</summary>
    public double Survival(double time) => time <= 0 ? 1 : Math.Exp(-Math.Pow(time / Scale, Shape));

    /// <param name="failed">Lives, above 0; at least two different ones.</param>
    /// <param name="running">Ages, above 0, of units that have not failed.</param>
    /// <exception cref="ArgumentException">Fewer than two different failures, or a time that is not above 0.</exception>
    public static WeibullFit Of(IReadOnlyList<double> failed, IReadOnlyList<double> running)
    {
        if (failed.Distinct().Count() < 2 || failed.Concat(running).Any(t => !(t > 0) || !double.IsFinite(t)))
            throw new ArgumentException("A Weibull fit needs two different lives, and every time above 0.", nameof(failed));
        var longest = failed.Concat(running).Max();
        var (lives, ages) = (failed.Select(t => t / longest).ToList(), failed.Concat(running).Select(t => t / longest).ToList());
        var meanLog = lives.Average(Math.Log);
        var high = 1.0;
        while (Profile(high) < 0)
            high *= 2;
        var low = high / 2;
        while (Profile(low) > 0)
            low /= 2;
        var shape = Brent.FindRoot(Profile, low, high, 1e-13, 200);
        var scale = Math.Pow(ages.Sum(t => Math.Pow(t, shape)) / lives.Count, 1 / shape) * longest;
        var likelihood = failed.Sum(t => Math.Log(shape / scale) + ((shape - 1) * Math.Log(t / scale)))
            - failed.Concat(running).Sum(t => Math.Pow(t / scale, shape));
        return new(shape, scale, likelihood);

        double Profile(double b) => (ages.Sum(t => Math.Pow(t, b) * Math.Log(t)) / ages.Sum(t => Math.Pow(t, b))) - (1 / b) - meanLog;
    }
}
