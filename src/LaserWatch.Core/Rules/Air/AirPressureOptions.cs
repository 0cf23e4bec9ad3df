using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Rules;

/// <summary>How air assist is held against the job's recorded pressure.</summary>
/// <remarks>Defaults: common practice, no source, where they name none.</remarks>
public sealed record AirPressureOptions
{
    /// <summary>Allowed fall below the recorded pressure, as a fraction of it, where the record gives none. Default 0.10. Lower finds less, sooner; too low turns a compressor's own swing into alarms.</summary>
    [Range(0.02, 0.5)]
    public double Tolerance { get; init; } = 0.10;

    /// <summary>The pressure must stay low so long, in seconds, before it is an alarm. Default 2.</summary>
    [Range(0, 60)]
    public double OnDelaySeconds { get; init; } = 2;

    /// <summary>How far and long below the limit together, in % of the recorded pressure times seconds: a fall just past the limit must last longer than a deep one. Default 4.</summary>
    [Range(0, 100)]
    public double LeastDeficitPercentSeconds { get; init; } = 4;

    /// <summary>The pressure must be good so long, in seconds, before the alarm returns to normal. Default 15.</summary>
    [Range(0, 600)]
    public double OffDelaySeconds { get; init; } = 15;

    /// <summary>To return, the pressure must pass the limit by this fraction of the recorded pressure. Default 0.02.</summary>
    [Range(0, 0.2)]
    public double Deadband { get; init; } = 0.02;

    /// <summary>At most so long, in seconds, a rising pressure is waited for at the start of a run or after a pause. Default 8.</summary>
    [Range(0, 60)]
    public double StartUpSeconds { get; init; } = 8;

    /// <summary>Below this fraction of the recorded pressure air assist counts as lost. Default 0.25.</summary>
    [Range(0.02, 0.8)]
    public double LostFraction { get; init; } = 0.25;

    /// <summary>Below this pressure, kPa, air assist counts as lost whatever the job; null: only the fraction counts. Default null, since engraving may run without air.</summary>
    [Range(0.1, 1000)]
    public double? LostFloorKilopascals { get; init; }

    /// <summary>Allowed rise above the recorded pressure, as a fraction of it. Default 0.10. A blocked nozzle raises it by some 5 % only; where flow is fitted, flow tells more.</summary>
    [Range(0.02, 0.5)]
    public double HighTolerance { get; init; } = 0.10;

    /// <summary>A rise below so many kPa is never told. Default 6: at jobs with little air a tenth of the pressure is within the swing of any regulator.</summary>
    [Range(0, 200)]
    public double LeastRiseKilopascals { get; init; } = 6;

    /// <summary>Allowed fall of air flow below the job's own usual flow at good pressure, as a fraction. Default 0.25.</summary>
    [Range(0.05, 0.8)]
    public double FlowTolerance { get; init; } = 0.25;

    /// <summary>Too high a pressure, or a flow just too low, must last so long, in seconds; a flow far too low less long. Default 15.</summary>
    [Range(1, 600)]
    public double RestrictedOnDelaySeconds { get; init; } = 15;

    /// <summary>A level that has crept down at a job by this fraction of the tolerance is told as advice, before it is an alarm. Default 0.3. Lower: sooner, and of changes that may not matter.</summary>
    [Range(0.1, 0.9)]
    public double CreepFraction { get; init; } = 0.3;

    /// <summary>A level that has risen at a job by this fraction against the job's own usual one is told as advice. Default 0.025: half of what a blocked nozzle does. Lower: sooner, and a regulator set by hand is told more often.</summary>
    [Range(0.01, 0.2)]
    public double LearnedRise { get; init; } = 0.025;

    /// <summary>How long, in machine-years, the learned levels should go without a false advice. Default 10. Higher: calmer and slower.</summary>
    [Range(0.5, 1000)]
    public double FalseAlarmYears { get; init; } = 10;
}
