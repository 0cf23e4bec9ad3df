using System.ComponentModel.DataAnnotations;
using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>Limits of a channel, in its canonical unit: for quantities outside LaserWatch's own list.</summary>
public sealed record ChannelLimitOptions : IChecked
{
    /// <summary>Below this is an alarm; null: no lower limit.</summary>
    [Range(-1e9, 1e9)]
    public double? Low { get; init; }

    /// <summary>Above this is an alarm; null: no upper limit.</summary>
    [Range(-1e9, 1e9)]
    public double? High { get; init; }

    /// <summary>To return, the value must pass the limit by so much. Default 0.</summary>
    [Range(0, 1e9)]
    public double Deadband { get; init; }

    /// <summary>Outside must last so long, in seconds. Default 10.</summary>
    [Range(0, 3600)]
    public double OnDelaySeconds { get; init; } = 10;

    /// <summary>Inside must last so long, in seconds, to return. Default 15.</summary>
    [Range(0, 3600)]
    public double OffDelaySeconds { get; init; } = 15;

    /// <summary>low, medium, high or urgent. Default medium.</summary>
    public AlarmPriority Priority { get; init; } = AlarmPriority.Medium;

    /// <summary>What is wrong with these limits, in words; empty where nothing is.</summary>
    public IEnumerable<string> Mistakes()
    {
        if (Low is null && High is null)
            yield return "neither 'low' nor 'high' is given: give at least one";
        if (Low >= High)
            yield return "'low' is not below 'high': swap or correct them";
    }
}
