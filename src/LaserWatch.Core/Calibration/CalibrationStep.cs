using System.Text.Json.Serialization;
using LaserWatch.Telemetry;

namespace LaserWatch.Calibration;

/// <summary>One step from what a sensor sends to what it measures. Pure; the same raw value always gives the same result.</summary>
/// <remarks>
/// A new kind of step also needs: its <c>JsonDerivedType</c> here, the configuration's JSON Schema written anew (<c>SchemaTests</c>), a
/// row in the README's table of calibrations, and a test against a published table.
/// </remarks>
[JsonPolymorphic(TypeDiscriminatorPropertyName = "kind")]
[JsonDerivedType(typeof(LinearStep), "linear")]
[JsonDerivedType(typeof(CurrentLoopStep), "current-loop")]
[JsonDerivedType(typeof(PolynomialStep), "polynomial")]
[JsonDerivedType(typeof(TableStep), "table")]
[JsonDerivedType(typeof(NtcBetaStep), "ntc-beta")]
[JsonDerivedType(typeof(NtcSteinhartHartStep), "ntc-steinhart-hart")]
[JsonDerivedType(typeof(RtdStep), "rtd")]
[JsonDerivedType(typeof(CurrentClampStep), "current-clamp")]
[JsonDerivedType(typeof(DividerStep), "divider")]
public abstract record CalibrationStep : IChecked
{
    /// <summary>The unit the step must be fed, such as <c>mA</c> or <c>Ohm</c>; null where it takes any.</summary>
    [JsonIgnore]
    public virtual string? RawUnit => null;

    /// <summary>The unit of what the step gives; null where only the one who wrote the step knows it.</summary>
    [JsonIgnore]
    public virtual string? ValueUnit => null;

    /// <summary>Calibrates one finite raw value. Allocates nothing.</summary>
    /// <returns>False with a <paramref name="fault"/>, and 0 as <paramref name="value"/>, where the raw value means no measurement.</returns>
    public abstract bool TryApply(double raw, out double value, out CalibrationFault fault);

    /// <summary>What is wrong with the step's own numbers taken together, and the mend; bounds of single numbers are in attributes.</summary>
    public abstract IEnumerable<string> Mistakes();

    private protected static bool Good(double result, out double value, out CalibrationFault fault)
    {
        if (!double.IsFinite(result))
            return Bad(CalibrationFault.NotFinite, out value, out fault);
        value = result;
        fault = CalibrationFault.None;
        return true;
    }

    private protected static bool Bad(CalibrationFault why, out double value, out CalibrationFault fault)
    {
        value = 0;
        fault = why;
        return false;
    }
}
