using LaserWatch.Monitoring;
using MathNet.Numerics.Distributions;

namespace LaserWatch.Models;

/// <summary>What is believed of a level and its scatter before any of it was seen.</summary>
/// <param name="Mean">The likeliest level.</param>
/// <param name="MeanWeight">How many observations that is worth.</param>
/// <param name="Deviation">The likeliest standard deviation of one observation about the level.</param>
/// <param name="DeviationWeight">How many observations that is worth.</param>
internal readonly record struct LevelPrior(double Mean, double MeanWeight, double Deviation, double DeviationWeight);

/// <summary>A level that is learned from one observation a run, and how far the next one may lie from it.</summary>
/// <remarks>
/// Normal data with unknown mean and variance and their conjugate prior: the next observation has a Student t distribution
/// (Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.3, from memory). Turned into a normal score, each observation stands for
/// itself from the first on, as in a self-starting CUSUM (Hawkins and Olwell, Cumulative Sum Charts, 1998, chapter 7, from memory): a level known
/// from three runs alarms no more often than one known from a hundred.
/// </remarks>
internal sealed class LearnedLevel
{
    /// <summary>After so many, old observations fade: a shop changes over the years.</summary>
    private const double MostCount = 200;

    /// <summary>One wild run, such as a trial at another setting, must not make an alarm alone.</summary>
    private const double MostScore = 4;

    private double _count;
    private double _mean;
    private double _squares;

    /// <summary>How many observations taught it, at most 200.</summary>
    public double Count => _count;

    /// <summary>The level as it is believed now.</summary>
    public double Level(in LevelPrior prior) =>
        ((prior.MeanWeight * prior.Mean) + (_count * _mean)) / (prior.MeanWeight + _count);

    /// <summary>Standard deviation of one observation about the level, as it is believed now.</summary>
    public double Deviation(in LevelPrior prior)
    {
        var between = prior.MeanWeight * _count / (prior.MeanWeight + _count) * (_mean - prior.Mean) * (_mean - prior.Mean);
        var squares = (prior.DeviationWeight * prior.Deviation * prior.Deviation) + _squares + between;
        return Math.Sqrt(squares / (prior.DeviationWeight + _count));
    }

    /// <summary>How unusual an observation is: a standard normal score where nothing has changed, within ±4.</summary>
    public double Score(double value, in LevelPrior prior)
    {
        var t = (value - Level(prior)) / (Deviation(prior) * Math.Sqrt(1 + (1 / (prior.MeanWeight + _count))));
        var tail = StudentT.CDF(0, 1, prior.DeviationWeight + _count, -Math.Abs(t));
        return Math.Sign(t) * Math.Min(MostScore, tail < 1e-10 ? MostScore : -Normal.InvCDF(0, 1, tail));
    }

    public void Learn(double value)
    {
        if (_count >= MostCount)
            _squares *= (MostCount - 1) / MostCount;
        _count = Math.Min(_count + 1, MostCount);
        var off = value - _mean;
        _mean += off / _count;
        _squares += off * (value - _mean);
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _count);
        state.Walk(ref _mean);
        state.Walk(ref _squares);
    }
}
