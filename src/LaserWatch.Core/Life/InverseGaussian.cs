using MathNet.Numerics.RootFinding;

namespace LaserWatch.Life;

/// <summary>The inverse-Gaussian distribution: when a Wiener process with drift first reaches a level.</summary>
/// <param name="Mean">Above 0, in the unit of the variable.</param>
/// <param name="Shape">λ, above 0, in the same unit; the variance is mean³/λ.</param>
/// <remarks>R. S. Chhikara and J. L. Folks, The Inverse Gaussian Distribution (1989); formulae from memory, checked against R package statmod.</remarks>
public readonly record struct InverseGaussian(double Mean, double Shape)
{
    public double Variance => Mean * Mean * Mean / Shape;

    /// <summary>Where the density is highest.</summary>
    public double Mode
    {
        get
        {
            var r = 1.5 * Mean / Shape;
            return Mean * (Math.Sqrt(1 + (r * r)) - r);
        }
    }

    /// <summary>When a Wiener process first goes so far: drift·t + diffusion·W(t) = distance.</summary>
    /// <param name="distance">Above 0.</param>
    /// <param name="drift">Above 0, distance by time.</param>
    /// <param name="diffusion">Above 0, distance by square root of time.</param>
    public static InverseGaussian FirstPassage(double distance, double drift, double diffusion)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(distance);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(drift);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(diffusion);
        return new(distance / drift, distance * distance / (diffusion * diffusion));
    }

    public double Density(double t) => t <= 0 ? 0 : Math.Exp(LogDensity(t));

    public double LogDensity(double t) =>
        t <= 0 ? double.NegativeInfinity : (Math.Log(Shape / (2 * Math.PI * t * t * t)) - (Shape * (t - Mean) * (t - Mean) / (Mean * Mean * t))) / 2;

    /// <summary>Probability of at most <paramref name="t"/>; keeps its digits in the lower tail, and for shapes far above the mean, where the textbook formula overflows.</summary>
    public double Cumulative(double t)
    {
        if (t <= 0)
            return 0;
        var (a, b) = Ends(t);
        return Math.Min(1, MillsRatio.Cumulative(a) + MillsRatio.Tilted(a, b));
    }

    /// <summary>Logarithm of the probability of more than <paramref name="t"/>; keeps its digits in the upper tail.</summary>
    public double LogSurvival(double t)
    {
        if (t <= 0)
            return 0;
        var (a, b) = Ends(t);
        return a < 2
            ? Math.Log(1 - Cumulative(t))
            : -(a * a / 2) - (Math.Log(2 * Math.PI) / 2) + Math.Log(MillsRatio.At(a) - MillsRatio.At(b));
    }

    /// <summary>The value that is not exceeded with a probability above 0 and below 1.</summary>
    public double Quantile(double probability)
    {
        if (!(probability > 0 && probability < 1))
            throw new ArgumentOutOfRangeException(nameof(probability), probability, "A probability lies between 0 and 1.");
        var self = this;
        var (low, high) = (Math.Log(Mode), Math.Log(Mean));
        while (self.Cumulative(Math.Exp(low)) > probability)
            low -= 1;
        while (self.Cumulative(Math.Exp(high)) < probability)
            high += 1;
        return Math.Exp(Brent.FindRoot(u => self.Cumulative(Math.Exp(u)) - probability, low, high, 1e-14, 200));
    }

    private (double A, double B) Ends(double t)
    {
        var root = Math.Sqrt(Shape / t);
        return (root * ((t / Mean) - 1), root * ((t / Mean) + 1));
    }
}
