using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;

namespace LaserWatch.Calibration;

/// <summary>Current clamp or transformer with a burden resistor: volts across the burden to amperes in the conductor. I = V / R · ratio.</summary>
/// <remarks>Ohm's law and the turns ratio. A clamp that gives volts per ampere has its burden inside: take <see cref="LinearStep"/> for it.</remarks>
public sealed record CurrentClampStep : CalibrationStep
{
    /// <summary>Amperes in the conductor for one ampere in the secondary winding, such as 2000 for 100 A : 50 mA.</summary>
    [Range(0.001, 1_000_000)]
    public double Ratio { get; init; } = 1000;

    /// <summary>The burden resistor, in ohms.</summary>
    [Range(0.001, 1_000_000)]
    public double BurdenOhms { get; init; } = 10;

    [JsonIgnore]
    public override string RawUnit => "V";

    [JsonIgnore]
    public override string ValueUnit => "A";

    public override bool TryApply(double raw, out double value, out CalibrationFault fault) =>
        Good(raw / BurdenOhms * Ratio, out value, out fault);

    public override IEnumerable<string> Mistakes() => [];
}
