using MathNet.Numerics.Statistics;

namespace LaserWatch.Statistics;

/// <summary>What a stretch in control has taught about its noise: AR(1), with white sensor noise on top where the stretch shows it.</summary>
/// <param name="Mean">In the samples' unit.</param>
/// <param name="ErrorSigma">Standard deviation of the one-step errors, in the samples' unit.</param>
/// <param name="Phi">Correlation of neighbours of the coloured part.</param>
/// <param name="Theta">0 without sensor noise, as in <see cref="Ar1Whitener"/>.</param>
/// <param name="Learned">Samples it was learned from; <see cref="int.MaxValue"/> where the values are known.</param>
public sealed record Ar1Noise(double Mean, double ErrorSigma, double Phi, double Theta = 0, int Learned = int.MaxValue)
{
    /// <summary>Fewest samples that can be learned from.</summary>
    public const int LeastSamples = 50;

    /// <summary>Standard deviation of a sample, in the samples' unit.</summary>
    public double Sigma => ErrorSigma * new Ar1Whitener(Phi, Theta).Gain;

    /// <summary>The long-run variance, in the samples' unit squared: (σ·(1 − θ)/(1 − φ))².</summary>
    public double LongRun => Math.Pow(ErrorSigma * (1 - Theta) / (1 - Phi), 2);

    /// <summary>A lasting shift of the samples of one <see cref="Sigma"/>, in σ of the errors.</summary>
    public double ShiftGain => (1 - Phi) / (1 - Theta) * new Ar1Whitener(Phi, Theta).Gain;

    /// <summary>Learns from a stretch in control; null where it is too short or all its values are equal.</summary>
    /// <remarks>
    /// Values farther than 4 robust σ (1.4826 × median absolute deviation) from the median are drawn in to there. φ is that of
    /// <see cref="Autocorrelation.LagOne"/>; θ is taken in where the conditional least squares of ARMA(1,1) are better by more than
    /// ln n in −2 ln L (Schwarz's criterion), with 0 &lt; θ &lt; φ as a sensor's noise makes it.
    /// </remarks>
    /// <param name="samples">In time order, evenly spaced, without gaps.</param>
    public static Ar1Noise? Fit(ReadOnlySpan<double> samples)
    {
        if (samples.Length < LeastSamples)
            return null;
        var values = samples.ToArray();
        var median = values.Median();
        var spread = 1.4826 * Array.ConvertAll(values, value => Math.Abs(value - median)).Median();
        if (spread > 0)
            values = Array.ConvertAll(values, value => Math.Clamp(value, median - 4 * spread, median + 4 * spread));
        var mean = values.Mean();
        var centred = Array.ConvertAll(values, value => value - mean);
        var phi = Autocorrelation.LagOne(values);
        var theta = 0.0;
        var squares = Squares(centred, phi, 0);
        if (!(squares > 0))
            return null;

        var (bestPhi, bestTheta, bestSquares) = LeastSquares(centred);
        if (samples.Length * Math.Log(squares / bestSquares) > Math.Log(samples.Length))
            (phi, theta, squares) = (bestPhi, bestTheta, bestSquares);
        return new Ar1Noise(mean, Math.Sqrt(squares / (samples.Length - 2)), phi, theta, samples.Length);
    }

    /// <summary>The best φ and θ with 0 ≤ θ &lt; φ &lt; 1, on a grid made finer twice.</summary>
    private static (double Phi, double Theta, double Squares) LeastSquares(double[] centred)
    {
        var best = (Phi: 0.5, Theta: 0.0, Squares: double.PositiveInfinity);
        var (middlePhi, middleTheta) = (0.5, 0.5);
        foreach (var step in (ReadOnlySpan<double>)[0.1, 0.02, 0.005])
        {
            var reach = step == 0.1 ? 0.5 : 5 * step;
            for (var phi = middlePhi - reach; phi <= middlePhi + reach; phi += step)
                for (var theta = middleTheta - reach; theta <= middleTheta + reach; theta += step)
                    if (phi is > 0 and < 0.995 && theta >= 0 && theta < phi && Squares(centred, phi, theta) is var squares && squares < best.Squares)
                        best = (phi, theta, squares);
            (middlePhi, middleTheta) = (best.Phi, best.Theta);
        }

        return best;
    }

    private static double Squares(double[] centred, double phi, double theta)
    {
        var whitener = new Ar1Whitener(phi, theta);
        var sum = 0.0;
        foreach (var value in centred)
        {
            var error = whitener.Update(value);
            sum += error * error;
        }

        return sum;
    }
}
