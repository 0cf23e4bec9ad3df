namespace LaserWatch.Life;

/// <summary>How far one unit has aged, at rising times: the growth of what ages it, from 0 at its first time.</summary>
/// <param name="Unit">Its name.</param>
/// <param name="Times">Rising; any unit, the same for all units of a study.</param>
/// <param name="Values">As many; strictly rising where an inverse-Gaussian process is to be fitted.</param>
public sealed record DegradationPath(string Unit, IReadOnlyList<double> Times, IReadOnlyList<double> Values)
{
    /// <summary>What can be seen up to a time.</summary>
    public DegradationPath Until(double time)
    {
        var seen = Times.Count(t => t <= time);
        return new(Unit, [.. Times.Take(seen)], [.. Values.Take(seen)]);
    }

    /// <summary>When the straight line between the readings first meets the level; null where they never reach it.</summary>
    public double? Crossing(double level)
    {
        for (var i = 1; i < Times.Count; i++)
        {
            if (Values[i] >= level)
                return Times[i - 1] + ((Times[i] - Times[i - 1]) * (level - Values[i - 1]) / (Values[i] - Values[i - 1]));
        }

        return null;
    }

    /// <summary>When the least-squares line through the readings meets the level: the pseudo failure time of Meeker and Escobar, Statistical Methods for Reliability Data (1998), chapter 13.</summary>
    public double LineCrossing(double level)
    {
        var (intercept, slope) = MathNet.Numerics.Fit.Line([.. Times], [.. Values]);
        return (level - intercept) / slope;
    }

    /// <summary>Steps from reading to reading: how long, and how much.</summary>
    /// <exception cref="ArgumentException">Fewer than two readings, or one that does not rise above the last.</exception>
    internal (double Time, double Growth)[] Steps()
    {
        if (Times.Count < 2 || Times.Count != Values.Count)
            throw new ArgumentException($"Unit {Unit} has {Times.Count} times and {Values.Count} values; at least two of each are needed.");
        var steps = new (double Time, double Growth)[Times.Count - 1];
        for (var i = 1; i < Times.Count; i++)
        {
            steps[i - 1] = (Times[i] - Times[i - 1], Values[i] - Values[i - 1]);
            if (!(steps[i - 1].Time > 0 && steps[i - 1].Growth > 0))
                throw new ArgumentException($"Unit {Unit} does not rise from time {Times[i - 1]} to {Times[i]}: an inverse-Gaussian process always does.");
        }

        return steps;
    }
}
