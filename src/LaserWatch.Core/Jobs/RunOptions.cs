using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Jobs;

/// <summary>How runs are worked out where nobody announces them, and when a forgotten one ends.</summary>
public sealed record RunOptions
{
    /// <summary>Activity (beam, power or air) must last so long, in seconds, before a run is taken to have begun. Default 3. Higher ignores test pulses, and starts judging later.</summary>
    [Range(0.5, 60)]
    public double StartAfterSeconds { get; init; } = 3;

    /// <summary>A run nobody announced ends after so many seconds without activity. Default 60. Lower splits a job at its pauses.</summary>
    [Range(5, 3600)]
    public double EndAfterIdleSeconds { get; init; } = 60;

    /// <summary>An announced run whose end never came is closed after so many minutes without beam. Default 30.</summary>
    [Range(1, 1440)]
    public double ForgottenAfterMinutes { get; init; } = 30;

    /// <summary>A recorded job fits when its power is within so many points of the measured one. Default 1.5 %.</summary>
    [Range(0.1, 10)]
    public double PowerMatchPoints { get; init; } = 1.5;

    /// <summary>A recorded job fits when the measured pressure is within this fraction of the recorded one. Default 0.10.</summary>
    [Range(0.02, 0.5)]
    public double PressureMatchFraction { get; init; } = 0.10;

    /// <summary>Gauge pressure that counts as air assist being on, kPa. Default 20.</summary>
    [Range(1, 500)]
    public double AirOnKilopascals { get; init; } = 20;

    /// <summary>Tube current that counts as beam where no lasing signal is wired, mA. Default 1.</summary>
    [Range(0.1, 10)]
    public double BeamOnMilliamps { get; init; } = 1;
}
