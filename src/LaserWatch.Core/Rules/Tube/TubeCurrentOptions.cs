using System.ComponentModel.DataAnnotations;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>How tube current is held against its baseline at fixed power.</summary>
/// <remarks>Defaults: common practice, no source, where they name none.</remarks>
public sealed record TubeCurrentOptions : IChecked
{
    /// <summary>Fall below the baseline that counts as sag, as a fraction of it. Default 0.05. Lower finds ageing sooner; below the wander of the mains it finds nothing else.</summary>
    [Range(0.01, 0.5)]
    public double Sag { get; init; } = 0.05;

    /// <summary>Fall that raises the priority, as a fraction. Default 0.15.</summary>
    [Range(0.02, 0.9)]
    public double SevereSag { get; init; } = 0.15;

    /// <summary>Fall between one stretch of beam and the next that counts as a step, as a fraction. Default 0.045.</summary>
    [Range(0.01, 0.5)]
    public double Step { get; init; } = 0.045;

    /// <summary>A machine in good health is told of a changed tube current once in so many years of work, on average. Default 10. Higher finds small changes later; the threshold is computed from it.</summary>
    [Range(0.1, 1000)]
    public double YearsBetweenFalseAlarms { get; init; } = 10;

    /// <summary>The baseline is learned over so many first beam-on hours of a tube. Default 4. Longer averages out the wander of days; a tube that falls meanwhile is held against what was learned by then.</summary>
    [Range(0.1, 100)]
    public double LearnBeamHours { get; init; } = 4;

    /// <summary>Beam on and power unchanged for so long, in seconds, before a current counts. Default 1.5.</summary>
    [Range(0, 30)]
    public double SettleSeconds { get; init; } = 1.5;

    /// <summary>Below this command, %, current is not judged: the supply then delivers pulses without a clear level (common practice, no published source). Default 30.</summary>
    [Range(0, 90)]
    public double LeastPowerPercent { get; init; } = 30;

    /// <summary>The tube's rated working current, mA; null: too high a current is not judged. Default null.</summary>
    [Range(1, 200)]
    public double? RatedCurrentMilliamps { get; init; }

    /// <summary>Too high a current must last so long, in seconds. Default 5.</summary>
    [Range(0, 120)]
    public double HighOnDelaySeconds { get; init; } = 5;

    /// <summary>What is wrong with these limits taken together, in words; empty where nothing is.</summary>
    public IEnumerable<string> Mistakes()
    {
        if (Sag >= SevereSag)
            yield return "'sag' is not below 'severeSag': swap or correct them";
    }
}
