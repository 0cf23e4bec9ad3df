using MathNet.Numerics;
using MathNet.Numerics.Distributions;

namespace LaserWatch.Models;

/// <summary>Where a loop of which nothing is learned yet is bound, by its course of the last minutes alone: how probable it is that it gets somewhere in time.</summary>
/// <remarks>
/// Between two changes of load a first-order loop moves as T(t) = c + s·τ·(1 − e^(−t/τ)) (Newton's law of cooling), with the same τ before and
/// after a change. How long τ is, and whether and when the load changed within the window, a few minutes can hardly tell. So all of it is
/// weighed: for each τ and each time of the change the rest is linear least squares, and with flat priors a way's share is
/// |XᵀX|^(−½)·SSE^(−ν/2), its forecast a Student distribution of ν degrees (Zellner, An Introduction to Bayesian Inference in Econometrics, 1971, ch. 3,
/// from memory). A run that has just begun may then still settle soon, and nothing is said of it before it shows that it does not.
/// </remarks>
internal readonly ref struct CourseForecast
{
    /// <summary>Means that the course consists of.</summary>
    public const int Bins = 20;

    /// <summary>How many ways there are to go on: each τ with each time of a change.</summary>
    public const int Ways = TimeConstants * Onsets;

    private const int TimeConstants = 11;
    private const int Onsets = 1 + LastOnset - FirstOnset + 1;

    // A change must leave means enough on both sides to be told from noise.
    private const int FirstOnset = 3;
    private const int LastOnset = Bins / 2;

    // Time constants from eight bins on, each longer by the root of two, alike probable: from a bucket on a large radiator (4 L on 140 W/K) to a
    // great tank on a small one (25 L on 39 W/K); and a straight course, where nothing cools. Common practice, no source.
    private const double ShortestBins = 8;

    // A change of load may bring any change of slope up to this, K per bin of 15 s: 450 W into 8 L.
    private const double SteepestChange = 0.2;

    // A mean of few samples is never surer than this, K²: a sensor that repeats itself would make a course without noise.
    private const double LeastVariance = 1e-4;
    private const double Negligible = 1e-5;

    // √π·Γ(ν/2)/Γ((ν + 1)/2) of the integrals over one unknown more, ν = Bins − 3, by the width of its prior and the number of onsets.
    private static readonly double LogOfChange =
        (0.5 * Math.Log(Math.PI)) + SpecialFunctions.GammaLn((Bins - 3) / 2.0) - SpecialFunctions.GammaLn((Bins - 2) / 2.0)
        - Math.Log(2 * SteepestChange) - Math.Log(Onsets - 1);

    private readonly Span<Way> _ways;
    private readonly double _total;

    /// <param name="bins">Means of like length, the newest last, °C.</param>
    /// <param name="room">For the ways to go on: as many as <see cref="Ways"/>.</param>
    public CourseForecast(ReadOnlySpan<double> bins, Span<Way> room)
    {
        _ways = room[..Ways];
        var best = double.NegativeInfinity;
        for (var j = 0; j < TimeConstants; j++)
        {
            var tau = j == TimeConstants - 1 ? double.PositiveInfinity : ShortestBins * Math.Pow(2, j / 2.0);
            for (var k = 0; k < Onsets; k++)
            {
                var way = Fit(bins, tau, k == 0 ? 0 : FirstOnset + k - 1);
                _ways[(j * Onsets) + k] = way;
                best = Math.Max(best, way.Weight);
            }
        }

        foreach (ref var way in _ways)
        {
            way.Weight = Math.Exp(way.Weight - best);
            _total += way.Weight;
        }
    }

    /// <summary>Probability that the temperature is reached so many bins after the newest.</summary>
    public double Probability(double celsius, double bins)
    {
        var sum = 0.0;
        foreach (ref readonly var way in _ways)
        {
            if (way.Weight < Negligible)
                continue;
            var onward = Onward(way.Since + bins, way.TimeConstant);
            var mean = way.Level + (way.Slope * onward);
            var variance = way.LevelVariance + (2 * onward * way.Covariance) + (onward * onward * way.SlopeVariance);
            sum += way.Weight * StudentT.CDF(0, 1, way.Freedom, (mean - celsius) / Math.Sqrt(variance));
        }

        return sum / _total;
    }

    /// <summary>After so many bins it is reached with that probability; null where that is later than the latest.</summary>
    public double? BinsTo(double celsius, double probability, double latest)
    {
        if (Probability(celsius, latest) < probability)
            return null;
        double low = 0, high = latest;
        while (high - low > 0.2)
        {
            var middle = (low + high) / 2;
            if (Probability(celsius, middle) < probability)
                low = middle;
            else
                high = middle;
        }

        return high;
    }

    private static double Onward(double bins, double tau) => double.IsPositiveInfinity(tau) ? bins : tau * (1 - Math.Exp(-bins / tau));

    /// <summary>Least squares of level at the change, slope after it, and slope before it; the weight is its logarithm yet.</summary>
    private static Way Fit(ReadOnlySpan<double> bins, double tau, int onset)
    {
        // Normal equations of three unknowns, of which the last may be missing.
        double n = bins.Length, sa = 0, sb = 0, aa = 0, bb = 0, y = 0, ay = 0, by = 0, yy = 0;
        var origin = bins[^1];
        for (var i = 0; i < bins.Length; i++)
        {
            var at = Onward(i - onset, tau);
            var (after, before) = i >= onset ? (at, 0.0) : (0.0, at);
            var value = bins[i] - origin;
            sa += after;
            sb += before;
            aa += after * after;
            bb += before * before;
            y += value;
            ay += after * value;
            by += before * value;
            yy += value * value;
        }

        // The slope before is eliminated first: no forecast asks for it.
        var hasBefore = onset > 0;
        var f = hasBefore ? sb / bb : 0;
        var m = n - (f * sb);
        var my = y - (f * by);
        var determinant = (m * aa) - (sa * sa);
        var level = ((aa * my) - (sa * ay)) / determinant;
        var slope = ((m * ay) - (sa * my)) / determinant;
        var squares = yy - (hasBefore ? by * by / bb : 0) - (level * my) - (slope * ay);
        var freedom = bins.Length - (hasBefore ? 3 : 2);
        squares = Math.Max(squares, freedom * LeastVariance);
        var variance = squares / freedom;
        var weight = (-0.5 * Math.Log(determinant)) - (0.5 * freedom * Math.Log(squares));
        if (hasBefore)
        {
            // A change in the window is as likely as none, and then at any time alike.
            weight += (-0.5 * Math.Log(bb)) + LogOfChange;
        }

        return new Way
        {
            Weight = weight, TimeConstant = tau, Since = bins.Length - 1 - onset, Freedom = freedom, Level = origin + level, Slope = slope,
            LevelVariance = variance * aa / determinant, Covariance = -variance * sa / determinant, SlopeVariance = variance * m / determinant,
        };
    }

    /// <summary>One way to go on: a time constant and a time of the change, with what fits them.</summary>
    internal struct Way
    {
        public double Weight;
        public double TimeConstant;
        public double Since;
        public double Freedom;
        public double Level, Slope;
        public double LevelVariance, Covariance, SlopeVariance;
    }
}
