using System.Text.Json.Serialization;

namespace LaserWatch.Calibration;

/// <summary>NTC thermistor by the Steinhart–Hart equation: ohms to °C. 1/T = A + B·ln R + C·(ln R)³, T in kelvins, R in ohms.</summary>
/// <remarks>J. S. Steinhart and S. R. Hart, Calibration curves for thermistors, Deep-Sea Research 15 (1968) 497–503.</remarks>
public sealed record NtcSteinhartHartStep : CalibrationStep
{
    private const double ZeroCelsiusKelvin = 273.15;

    /// <summary>1/K; about 1e-3.</summary>
    public double A { get; init; }

    /// <summary>1/K; about 2e-4.</summary>
    public double B { get; init; }

    /// <summary>1/K; about 1e-7.</summary>
    public double C { get; init; }

    [JsonIgnore]
    public override string RawUnit => "Ohm";

    [JsonIgnore]
    public override string ValueUnit => "°C";

    public override bool TryApply(double raw, out double value, out CalibrationFault fault)
    {
        if (raw <= 0)
            return Bad(CalibrationFault.ShortCircuit, out value, out fault);
        var log = Math.Log(raw);
        var perKelvin = A + (B * log) + (C * log * log * log);
        return perKelvin <= 0
            ? Bad(CalibrationFault.ShortCircuit, out value, out fault)
            : Good((1 / perKelvin) - ZeroCelsiusKelvin, out value, out fault);
    }

    public override IEnumerable<string> Mistakes()
    {
        if (!double.IsFinite(A) || !double.IsFinite(B) || !double.IsFinite(C))
        {
            yield return "a, b and c must be finite numbers";
            yield break;
        }

        // Whatever its make, a thermistor of 100 ohms to 1 megohm at room temperature has no more than this to say.
        if (A is <= 0 or > 0.01)
            yield return $"a is {A}: a thermistor's is about 1e-3; copy a, b and c from the data sheet (1/K, for ln of ohms)";
        if (B is <= 0 or > 0.001)
            yield return $"b is {B}: a thermistor's is about 2e-4; copy a, b and c from the data sheet (1/K, for ln of ohms)";
        if (C is < -1e-5 or > 1e-5)
            yield return $"c is {C}: a thermistor's is about 1e-7; copy a, b and c from the data sheet (1/K, for ln of ohms)";
    }
}
