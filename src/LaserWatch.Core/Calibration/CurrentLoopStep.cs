using System.Text.Json.Serialization;

namespace LaserWatch.Calibration;

/// <summary>A 4–20 mA current loop, milliamperes to the span of the transmitter.</summary>
/// <remarks>
/// Live zero of IEC 60381-1; bands of NAMUR NE 43: 3.8 to 20.5 mA is measurement (beyond 4 and 20 the transmitter is
/// saturated but tells the truth), 3.6 mA or less and 21 mA or more is a failure signal, and what lies between has no meaning,
/// so that the last good value stands.
/// </remarks>
public sealed record CurrentLoopStep : CalibrationStep
{
    public const double FailureLowMilliamps = 3.6;
    public const double MeasuringLowMilliamps = 3.8;
    public const double MeasuringHighMilliamps = 20.5;
    public const double FailureHighMilliamps = 21.0;

    /// <summary>The measured value at 4 mA, in the unit the step is to give.</summary>
    public double ValueAt4Milliamps { get; init; }

    /// <summary>The measured value at 20 mA, in the unit the step is to give.</summary>
    public double ValueAt20Milliamps { get; init; }

    [JsonIgnore]
    public override string RawUnit => "mA";

    public override bool TryApply(double raw, out double value, out CalibrationFault fault) => raw switch
    {
        <= FailureLowMilliamps => Bad(CalibrationFault.FailedLow, out value, out fault),
        >= FailureHighMilliamps => Bad(CalibrationFault.FailedHigh, out value, out fault),
        < MeasuringLowMilliamps or > MeasuringHighMilliamps => Bad(CalibrationFault.BetweenBands, out value, out fault),
        _ => Good(
            ValueAt4Milliamps + ((raw - 4) / 16 * (ValueAt20Milliamps - ValueAt4Milliamps)), out value, out fault),
    };

    public override IEnumerable<string> Mistakes()
    {
        if (!double.IsFinite(ValueAt4Milliamps) || !double.IsFinite(ValueAt20Milliamps))
            yield return "valueAt4Milliamps and valueAt20Milliamps must be finite numbers";
        else if (ValueAt4Milliamps == ValueAt20Milliamps)
            yield return $"valueAt4Milliamps and valueAt20Milliamps are both {ValueAt4Milliamps}: give the transmitter's span from its label";
    }
}
