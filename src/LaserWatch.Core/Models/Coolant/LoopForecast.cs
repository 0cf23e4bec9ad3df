using MathNet.Numerics.Distributions;

namespace LaserWatch.Models;

/// <summary>Where a learned loop is bound, from its present course and from its resting point, and when it gets somewhere on the way.</summary>
/// <remarks>
/// A first-order loop moves as T(t) = rest + (now − rest)·e^(−t/τ) (Newton's law of cooling), so its slope says rest = now + τ·slope. That and the
/// learned resting point are two measurements of one thing, joined in inverse proportion to their variances.
/// </remarks>
/// <param name="Now">°C.</param>
/// <param name="Rest">°C.</param>
/// <param name="RestError">Standard error, K.</param>
/// <param name="TimeConstant">Seconds.</param>
internal readonly record struct LoopForecast(double Now, double Rest, double RestError, double TimeConstant)
{
    // What five minutes of samples say of a slope is coloured by the loop's own swing.
    private const double SlopeInflation = 1.5;

    private const double UnsureLoad = 0.1;
    private const double Sure = 3;
    private const double NinetyPercent = 1.645;

    /// <summary>Null where the loop is not learned, does not behave as learned, or the course contradicts it: then only the course counts.</summary>
    /// <param name="slope">K/s.</param>
    /// <param name="slopeError">K/s.</param>
    /// <param name="load">Share of full load, lately.</param>
    public static LoopForecast? Of(LoopWatch loop, double now, double slope, double slopeError, double load)
    {
        if (!loop.IsTaught || loop.Test.IsSuspect || loop.LoadIsKnownOtherwise)
            return null;
        var model = loop.Model;
        var tau = -CoolantBlocks.Seconds / Math.Log(Math.Max(0.05, model.Decay));
        var (rest, error) = model.Resting(loop.Work.Room, load);
        var unsure = UnsureLoad * Math.Abs(model.KelvinsAtFullLoad);
        var learnedVariance = (error * error) + (unsure * unsure) + (model.LongRunVariance / (model.Gain * model.Gain));
        var outside = model.Outside(loop.Work.Room, load);
        learnedVariance += outside * outside;

        var bound = now + (tau * slope);
        var courseVariance = Math.Pow(SlopeInflation * tau * slopeError, 2) + 1e-6;
        if (Math.Abs(bound - rest) > Sure * Math.Sqrt(courseVariance + learnedVariance))
            return null;
        var weight = learnedVariance / (learnedVariance + courseVariance);
        return new LoopForecast(
            now, (weight * bound) + ((1 - weight) * rest), Math.Sqrt(courseVariance * learnedVariance / (courseVariance + learnedVariance)), tau);
    }

    /// <summary>Probability that the limit is reached within the minutes.</summary>
    public double Probability(double limit, double minutes)
    {
        var needed = Now + ((limit - Now) / (1 - Math.Exp(-minutes * 60 / TimeConstant)));
        return 1 - Normal.CDF(Rest, RestError, needed);
    }

    /// <summary>Minutes to the limit, with both ends of an interval that holds nine times in ten; an end that never comes is null.</summary>
    public (double Minutes, double? Soonest, double? Latest, double? BoundFor) MinutesTo(double limit) =>
        (Minutes(limit, Rest) ?? double.PositiveInfinity, Minutes(limit, Rest + (NinetyPercent * RestError)), Minutes(limit, Rest - (NinetyPercent * RestError)), Rest);

    private double? Minutes(double limit, double rest) =>
        rest <= limit ? null : TimeConstant * Math.Log((rest - Now) / (rest - limit)) / 60;
}
