namespace LaserWatch.Life;

/// <summary>A fall with a drift of its own, a wander that stays, and errors of measurement that do not: what a series says of where it stands and how fast it falls.</summary>
/// <remarks>
/// y(i) = a − ν·(t(i) − t(1)) + σ·W(t(i) − t(1)) + e(i), with W a Wiener process and var e(i) given. For a fixed σ everything is
/// Gaussian: a Kalman filter takes the wander out of y and of both regressors alike, then a and ν follow by least squares (flat priors).
/// G. A. Whitmore, Lifetime Data Analysis 1 (1995) 307, a Wiener process with measurement error; J. Durbin and S. J. Koopman, Time Series Analysis
/// by State Space Methods (2012), augmented filter (both from memory).
/// </remarks>
/// <param name="Level">Where the state itself, without error of measurement, stands at the last time.</param>
/// <param name="LevelVariance">Of <paramref name="Level"/>.</param>
/// <param name="Drift">ν, fall by time.</param>
/// <param name="DriftVariance">Of <paramref name="Drift"/>.</param>
/// <param name="Covariance">Of level and drift.</param>
/// <param name="LogLikelihood">With a and ν integrated out, but for a constant that hangs on the times alone.</param>
internal readonly record struct WienerDegradation(
    double Level, double LevelVariance, double Drift, double DriftVariance, double Covariance, double LogLikelihood)
{
    /// <param name="times">Rising; at least three.</param>
    /// <param name="variances">Of the errors of measurement, above 0.</param>
    /// <param name="diffusion">σ, at least 0.</param>
    public static WienerDegradation Of(ReadOnlySpan<double> times, ReadOnlySpan<double> values, ReadOnlySpan<double> variances, double diffusion)
    {
        // What the filter holds of the wander, for y, for the constant and for the time; p is its variance, the same for all three.
        var (wy, w1, wt, p) = (0.0, 0.0, 0.0, 0.0);
        var (s11, s1t, stt, s1y, sty, syy, logs) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        for (var i = 0; i < times.Length; i++)
        {
            if (i > 0)
                p += diffusion * diffusion * (times[i] - times[i - 1]);
            var time = times[i] - times[0];
            var (vy, v1, vt) = (values[i] - wy, 1 - w1, time - wt);
            var f = p + variances[i];
            s11 += v1 * v1 / f;
            s1t += v1 * vt / f;
            stt += vt * vt / f;
            s1y += v1 * vy / f;
            sty += vt * vy / f;
            syy += vy * vy / f;
            logs += Math.Log(f);
            var gain = p / f;
            wy += gain * vy;
            w1 += gain * v1;
            wt += gain * vt;
            p -= gain * p;
        }

        var determinant = (s11 * stt) - (s1t * s1t);
        var (c11, c1t, ctt) = (stt / determinant, -s1t / determinant, s11 / determinant);
        var constant = (c11 * s1y) + (c1t * sty);
        var slope = (c1t * s1y) + (ctt * sty);
        var rest = syy - (constant * s1y) - (slope * sty);

        // State = constant·(1 − w1) + slope·(t − wt) + wy.
        var (g1, gt) = (1 - w1, times[^1] - times[0] - wt);
        var level = (constant * g1) + (slope * gt) + wy;
        var variance = (g1 * g1 * c11) + (2 * g1 * gt * c1t) + (gt * gt * ctt) + p;
        var covariance = (g1 * c1t) + (gt * ctt);
        return new(level, variance, -slope, ctt, -covariance, -(logs + Math.Log(determinant) + rest) / 2);
    }
}
