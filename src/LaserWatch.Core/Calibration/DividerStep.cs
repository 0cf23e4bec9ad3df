using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;

namespace LaserWatch.Calibration;

/// <summary>A sensor and a fixed resistor between supply and ground, read in the middle: volts or counts to the sensor's ohms.</summary>
/// <remarks>
/// The voltage divider rule: with f the reading as a fraction of the supply, the sensor has Rfixed·f/(1 − f) at the ground side and
/// Rfixed·(1 − f)/f at the supply side. A reading at an end of the scale is a broken wire or a short circuit, not a resistance.
/// </remarks>
public sealed record DividerStep : CalibrationStep
{
    /// <summary>The fixed resistor, in ohms.</summary>
    [Range(1, 10_000_000)]
    public double FixedOhms { get; init; } = 10_000;

    /// <summary>What would be read at the supply itself: its volts, or the converter's full scale (1023, 4095, 65535 …).</summary>
    [Range(0.001, 1e9)]
    public double RawAtSupply { get; init; } = 1023;

    /// <summary>True where the sensor sits between supply and reading, false (the default) where it sits between reading and ground.</summary>
    public bool SensorAtSupply { get; init; }

    [JsonIgnore]
    public override string ValueUnit => "Ohm";

    public override bool TryApply(double raw, out double value, out CalibrationFault fault)
    {
        var fraction = raw / RawAtSupply;
        if (!(fraction > 0))
            return Bad(SensorAtSupply ? CalibrationFault.OpenCircuit : CalibrationFault.ShortCircuit, out value, out fault);
        if (fraction >= 1)
            return Bad(SensorAtSupply ? CalibrationFault.ShortCircuit : CalibrationFault.OpenCircuit, out value, out fault);
        var ratio = SensorAtSupply ? (1 - fraction) / fraction : fraction / (1 - fraction);
        return Good(FixedOhms * ratio, out value, out fault);
    }

    public override IEnumerable<string> Mistakes() => [];
}
