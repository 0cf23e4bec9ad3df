namespace LaserWatch.Calibration;

/// <summary>A straight line through two points. The first is the origin where it is not given.</summary>
public sealed record LinearStep : CalibrationStep
{
    /// <summary>What the sensor sent at the first point, in its own unit.</summary>
    public double Raw1 { get; init; }

    /// <summary>What it was worth, in the unit the step is to give.</summary>
    public double Value1 { get; init; }

    /// <summary>What the sensor sent at the second point.</summary>
    public double Raw2 { get; init; }

    /// <summary>What that was worth.</summary>
    public double Value2 { get; init; }

    // From the nearer point, so that both points come back to the last digit.
    public override bool TryApply(double raw, out double value, out CalibrationFault fault)
    {
        var slope = (Value2 - Value1) / (Raw2 - Raw1);
        return Math.Abs(raw - Raw1) <= Math.Abs(raw - Raw2)
            ? Good(Value1 + ((raw - Raw1) * slope), out value, out fault)
            : Good(Value2 + ((raw - Raw2) * slope), out value, out fault);
    }

    public override IEnumerable<string> Mistakes()
    {
        if (!double.IsFinite(Raw1) || !double.IsFinite(Value1) || !double.IsFinite(Raw2) || !double.IsFinite(Value2))
            yield return "raw1, value1, raw2 and value2 must be finite numbers";
        else if (Raw1 == Raw2)
            yield return $"raw1 and raw2 are both {Raw1}: give two different points";
        else if (Value1 == Value2)
            yield return $"value1 and value2 are both {Value1}, so the sensor could never be seen to change: give two different points";
    }
}
