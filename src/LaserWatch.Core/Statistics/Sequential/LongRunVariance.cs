namespace LaserWatch.Statistics;

/// <summary>The variance that sums of coloured samples grow by: lim n·Var(mean of n), the spectral density at 0 times 2π.</summary>
public static class LongRunVariance
{
    /// <summary>Estimates it from one stretch in control, in the samples' unit squared.</summary>
    /// <remarks>
    /// Pre-whitened by an AR(1) fit (Andrews and Monahan 1992, Econometrica 60:953), then Bartlett's kernel (Newey and West 1987, Econometrica 55:703) on
    /// the residuals with the bandwidth 1.1447·(α·n)^⅓ of Andrews 1991, Econometrica 59:817; from memory. On AR(1) noise with φ = 0.9 and 2000
    /// samples its relative standard error is about 0.25: so little does such a stretch say.
    /// </remarks>
    /// <param name="samples">At least 20, in time order, without gaps.</param>
    /// <exception cref="ArgumentException">Fewer than 20 samples.</exception>
    public static double Estimate(ReadOnlySpan<double> samples)
    {
        if (samples.Length < 20)
            throw new ArgumentException("A long-run variance needs at least twenty samples.", nameof(samples));
        // 0.97 as in Andrews and Monahan: nearer 1, recolouring blows up whatever the residuals say.
        var phi = Math.Clamp(Autocorrelation.LagOne(samples), -0.97, 0.97);
        var mean = 0.0;
        foreach (var sample in samples)
            mean += sample / samples.Length;
        var residuals = new double[samples.Length - 1];
        for (var n = 1; n < samples.Length; n++)
            residuals[n - 1] = samples[n] - mean - phi * (samples[n - 1] - mean);

        return Bartlett(residuals, Bandwidth(residuals)) / ((1 - phi) * (1 - phi));
    }

    private static int Bandwidth(double[] residuals)
    {
        var rho = Math.Clamp(Covariance(residuals, 1) / Covariance(residuals, 0), -0.97, 0.97);
        if (double.IsNaN(rho))
            return 0;
        var alpha = 4 * rho * rho / ((1 - rho) * (1 - rho) * (1 + rho) * (1 + rho));
        return Math.Min((int)(1.1447 * Math.Cbrt(alpha * residuals.Length)), residuals.Length / 4);
    }

    private static double Bartlett(double[] values, int bandwidth)
    {
        var sum = Covariance(values, 0);
        for (var lag = 1; lag <= bandwidth; lag++)
            sum += 2 * (1 - lag / (bandwidth + 1.0)) * Covariance(values, lag);
        return sum;
    }

    /// <summary>About 0: the residuals' mean is 0 up to the fit.</summary>
    private static double Covariance(double[] values, int lag)
    {
        var sum = 0.0;
        for (var n = lag; n < values.Length; n++)
            sum += values[n] * values[n - lag];
        return sum / values.Length;
    }
}
