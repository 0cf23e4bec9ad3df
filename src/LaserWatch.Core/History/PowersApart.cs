using System.Globalization;

namespace LaserWatch.History;

/// <summary>Two commanded powers at which a tube's health differs: pooled over both, the fall at the one looks smaller than it is.</summary>
/// <param name="LowestAt">%.</param>
/// <param name="Lowest">Measured current / baseline there.</param>
/// <param name="HighestAt">%.</param>
/// <param name="Highest">Measured current / baseline there.</param>
public sealed record PowersApart(double LowestAt, double Lowest, double HighestAt, double Highest)
{
    public string Words => string.Create(
        CultureInfo.InvariantCulture,
        $"The powers differ lately: {Lowest * 100:0.0} % of the baseline at {LowestAt:0} % power, {Highest * 100:0.0} % at {HighestAt:0} %.");
}
