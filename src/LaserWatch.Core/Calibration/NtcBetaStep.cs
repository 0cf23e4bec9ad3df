using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;

namespace LaserWatch.Calibration;

/// <summary>NTC thermistor by its Beta value: ohms to °C. 1/T = 1/298.15 K + ln(R/R25)/B.</summary>
/// <remarks>
/// The Beta equation as makers of thermistors print it (IEC 60539-1 defines B from two resistances). Good to about 0.1 °C between 10 and
/// 35 °C; half a degree off at 0 °C, and more beyond: there take <see cref="NtcSteinhartHartStep"/> or <see cref="TableStep"/>.
/// </remarks>
public sealed record NtcBetaStep : CalibrationStep
{
    private const double ZeroCelsiusKelvin = 273.15;
    private const double ReferenceKelvin = 298.15;

    /// <summary>Resistance at 25 °C, in ohms.</summary>
    [Range(1, 10_000_000)]
    public double R25Ohms { get; init; } = 10_000;

    /// <summary>The B value (B25/50 or B25/85) of the data sheet, in kelvins.</summary>
    [Range(500, 10_000)]
    public double BetaKelvin { get; init; } = 3950;

    [JsonIgnore]
    public override string RawUnit => "Ohm";

    [JsonIgnore]
    public override string ValueUnit => "°C";

    public override bool TryApply(double raw, out double value, out CalibrationFault fault)
    {
        if (raw <= 0)
            return Bad(CalibrationFault.ShortCircuit, out value, out fault);
        var perKelvin = (1 / ReferenceKelvin) + (Math.Log(raw / R25Ohms) / BetaKelvin);
        // So hot that the reciprocal changes sign: no resistance a thermistor can have.
        return perKelvin <= 0
            ? Bad(CalibrationFault.ShortCircuit, out value, out fault)
            : Good((1 / perKelvin) - ZeroCelsiusKelvin, out value, out fault);
    }

    public override IEnumerable<string> Mistakes() => [];
}
