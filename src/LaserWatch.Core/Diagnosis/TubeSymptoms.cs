using LaserWatch.Trends;

namespace LaserWatch.Diagnosis;

/// <summary>What is known about a fall of the tube's current. Whatever is null was not seen, and then says nothing.</summary>
public sealed record TubeSymptoms
{
    /// <summary>Fall below the baseline, as a fraction of it.</summary>
    public required double Fall { get; init; }

    /// <summary>Whether it came at once, with its weights; of kind unknown where that cannot be told yet.</summary>
    public ChangeFinding Change { get; init; }

    /// <summary>Fall at the highest power in use.</summary>
    public PowerFall? Top { get; init; }

    /// <summary>Fall at powers well below that.</summary>
    public PowerFall? Lower { get; init; }

    /// <summary>How far the sensor's reading with the beam off has moved, mA, and its standard error.</summary>
    public (double Milliamps, double Error)? ZeroShift { get; init; }

    /// <summary>Coolant temperature now, °C.</summary>
    public double? CoolantCelsius { get; init; }

    /// <summary>Coolant temperature of the baseline, °C.</summary>
    public double? CoolantAtBaselineCelsius { get; init; }

    /// <summary>Part of the current that this machine's own coolant dependence takes away now, as a fraction; 0 where it has none.</summary>
    public double CoolantEffect { get; init; }

    /// <summary>Scatter within blocks of steady beam, lately against at first.</summary>
    public double? Raggedness { get; init; }

    /// <summary>Part of the rated life used, the greater of hours and calendar.</summary>
    public double? LifeUsed { get; init; }

    /// <summary>The part that was serviced in the time in which the fall can have begun.</summary>
    public string? ServicedAtChange { get; init; }

    /// <summary>Whether a test cut logged after the fall began went through; null without one.</summary>
    public bool? TestCutGood { get; init; }
}

/// <summary>The fall at one power, or the mean over some.</summary>
/// <param name="PowerPercent">Commanded power.</param>
/// <param name="Fall">Fraction of the baseline; positive is down.</param>
/// <param name="Error">Standard error of the fall.</param>
/// <param name="BaselineMilliamps">Baseline current there.</param>
public readonly record struct PowerFall(double PowerPercent, double Fall, double Error, double BaselineMilliamps);
