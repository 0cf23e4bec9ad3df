using LaserWatch.Telemetry;
using UnitsNet;
using UnitsNet.Units;

namespace LaserWatch.Payloads;

/// <summary>From one unit to another: (value − <see cref="Zero"/>) · <see cref="Factor"/>.</summary>
/// <param name="Zero">What the one unit reads where the other reads 0, such as 32 from °F to °C. Taken off first, which keeps decimals clean.</param>
public readonly record struct UnitConversion(double Zero, double Factor)
{
    public static readonly UnitConversion Identity = new(0, 1);

    public double Apply(double value) => (value - Zero) * Factor;
}

/// <summary>The names sensors and SenML give to units, and the way from each to a channel's canonical unit.</summary>
/// <remarks>
/// Names are compared letter by letter, since <c>mPa</c> and <c>MPa</c> differ. A channel whose unit is not one of the families here takes
/// only its own unit. Pressures are gauge unless the name says absolute (<c>kPa-abs</c>, <c>bar-abs</c>, <c>psia</c>): from those the standard
/// atmosphere, 101.325 kPa (ISO 2533), is taken off, which is 1 to 3 kPa out with the weather and about 12 kPa too much per 1000 m of
/// height; there, calibrate with <c>linear</c> against the sensor at rest instead. The SenML unit <c>Pa</c> is read as gauge, too.
/// </remarks>
public static class Units
{
    /// <summary>The standard atmosphere of ISO 2533, in kPa.</summary>
    public const double StandardAtmosphereKilopascals = 101.325;

    private static readonly Dictionary<string, Family> FamilyOf = BuildFamilies();

    /// <summary>Finds the way from a named unit to a canonical one.</summary>
    /// <param name="canonical">As in <see cref="Channel.Unit"/>; empty for 0/1.</param>
    public static bool TryGet(string canonical, ReadOnlySpan<char> unit, out UnitConversion conversion)
    {
        if (unit.SequenceEqual(canonical))
        {
            conversion = UnitConversion.Identity;
            return true;
        }

        if (FamilyOf.TryGetValue(canonical, out var family))
            return family.BySpan.TryGetValue(unit, out conversion);
        conversion = default;
        return false;
    }

    /// <summary>The names known for a canonical unit; that unit itself comes first.</summary>
    public static IReadOnlyList<string> Known(string canonical) =>
        FamilyOf.TryGetValue(canonical, out var family) ? family.Names : [canonical];

    /// <summary>What to tell somebody who named a unit that a channel cannot take.</summary>
    public static string Explain(string channel, string canonical, string unit)
    {
        if (canonical.Length == 0 && !FamilyOf.ContainsKey(canonical))
            return $"channel {channel} has no unit, so {PayloadText.Quote(unit)} cannot be converted: declare the channel's unit";
        var names = string.Join(", ", Known(canonical).Select(name => name.Length == 0 ? "(none)" : name));
        return $"unit {PayloadText.Quote(unit)} is not known for {channel}{(canonical.Length == 0 ? "" : $" ({canonical})")}: use one of {names}";
    }

    private static Dictionary<string, Family> BuildFamilies()
    {
        var current = new Dictionary<string, Enum>
        {
            ["A"] = ElectricCurrentUnit.Ampere, ["mA"] = ElectricCurrentUnit.Milliampere,
            ["uA"] = ElectricCurrentUnit.Microampere, ["µA"] = ElectricCurrentUnit.Microampere, ["μA"] = ElectricCurrentUnit.Microampere,
        };

        var voltage = new Dictionary<string, Enum>
        {
            ["V"] = ElectricPotentialUnit.Volt, ["mV"] = ElectricPotentialUnit.Millivolt,
            ["uV"] = ElectricPotentialUnit.Microvolt, ["µV"] = ElectricPotentialUnit.Microvolt, ["μV"] = ElectricPotentialUnit.Microvolt,
        };

        var resistance = new Dictionary<string, Enum>
        {
            ["Ohm"] = ElectricResistanceUnit.Ohm, ["ohm"] = ElectricResistanceUnit.Ohm, ["Ω"] = ElectricResistanceUnit.Ohm,
            ["kOhm"] = ElectricResistanceUnit.Kiloohm, ["kohm"] = ElectricResistanceUnit.Kiloohm, ["kΩ"] = ElectricResistanceUnit.Kiloohm,
        };

        var flow = new Dictionary<string, Enum>
        {
            ["L/min"] = VolumeFlowUnit.LiterPerMinute, ["l/min"] = VolumeFlowUnit.LiterPerMinute, ["lpm"] = VolumeFlowUnit.LiterPerMinute,
            ["LPM"] = VolumeFlowUnit.LiterPerMinute, ["L/s"] = VolumeFlowUnit.LiterPerSecond, ["l/s"] = VolumeFlowUnit.LiterPerSecond,
            ["L/h"] = VolumeFlowUnit.LiterPerHour, ["l/h"] = VolumeFlowUnit.LiterPerHour, ["mL/min"] = VolumeFlowUnit.MilliliterPerMinute,
            ["ml/min"] = VolumeFlowUnit.MilliliterPerMinute, ["m3/s"] = VolumeFlowUnit.CubicMeterPerSecond,
            ["m3/min"] = VolumeFlowUnit.CubicMeterPerMinute, ["m3/h"] = VolumeFlowUnit.CubicMeterPerHour,
            ["m³/h"] = VolumeFlowUnit.CubicMeterPerHour, ["gal/min"] = VolumeFlowUnit.UsGallonPerMinute,
            ["gpm"] = VolumeFlowUnit.UsGallonPerMinute, ["GPM"] = VolumeFlowUnit.UsGallonPerMinute,
            ["gal/h"] = VolumeFlowUnit.UsGallonPerHour, ["cfm"] = VolumeFlowUnit.CubicFootPerMinute,
            ["CFM"] = VolumeFlowUnit.CubicFootPerMinute, ["ft3/min"] = VolumeFlowUnit.CubicFootPerMinute,
            ["cfh"] = VolumeFlowUnit.CubicFootPerHour, ["CFH"] = VolumeFlowUnit.CubicFootPerHour,
        };

        var time = new Dictionary<string, Enum>
        {
            ["h"] = DurationUnit.Hour, ["min"] = DurationUnit.Minute, ["s"] = DurationUnit.Second,
            ["ms"] = DurationUnit.Millisecond, ["d"] = DurationUnit.Day,
        };

        return new(StringComparer.Ordinal)
        {
            ["mA"] = Linear("mA", current),
            ["A"] = Linear("A", current),
            ["V"] = Linear("V", voltage),
            ["mV"] = Linear("mV", voltage),
            ["Ohm"] = Linear("Ohm", resistance),
            ["L/min"] = Linear("L/min", flow),
            ["h"] = Linear("h", time),
            ["s"] = Linear("s", time),
            ["kPa"] = Pressures(),
            ["°C"] = Temperatures(),
            ["%"] = Ratios("%", "percent"),
            ["%RH"] = Ratios("%RH", "%", "percent"),
            [""] = new("", new(StringComparer.Ordinal) { [""] = UnitConversion.Identity, ["/"] = UnitConversion.Identity, ["1"] = UnitConversion.Identity }),
        };
    }

    // A family whose zeros agree, so that one factor is the whole conversion.
    private static Family Linear(string canonical, Dictionary<string, Enum> names) =>
        new(canonical, names.ToDictionary(
            pair => pair.Key, pair => new UnitConversion(0, UnitConverter.Convert(1, pair.Value, names[canonical])),
            StringComparer.Ordinal));

    private static Family Pressures()
    {
        var plain = new Dictionary<string, PressureUnit>
        {
            ["kPa"] = PressureUnit.Kilopascal, ["Pa"] = PressureUnit.Pascal, ["hPa"] = PressureUnit.Hectopascal,
            ["MPa"] = PressureUnit.Megapascal, ["bar"] = PressureUnit.Bar, ["mbar"] = PressureUnit.Millibar,
            ["psi"] = PressureUnit.PoundForcePerSquareInch, ["kgf/cm2"] = PressureUnit.KilogramForcePerSquareCentimeter,
            ["kgf/cm²"] = PressureUnit.KilogramForcePerSquareCentimeter, ["mmHg"] = PressureUnit.MillimeterOfMercury,
            ["inHg"] = PressureUnit.InchOfMercury, ["atm"] = PressureUnit.Atmosphere,
        };
        var all = new Dictionary<string, UnitConversion>(StringComparer.Ordinal);
        foreach (var (name, unit) in plain)
            all.Add(name, new(0, Pressure.From(1, unit).Kilopascals));
        all.Add("psig", all["psi"]);
        all.Add("barg", all["bar"]);
        foreach (var name in new[] { "kPa", "Pa", "hPa", "MPa", "bar", "mbar", "psi" })
            all.Add(name + "-abs", new(Math.Round(Pressure.FromKilopascals(StandardAtmosphereKilopascals).As(plain[name]), 9), all[name].Factor));
        all.Add("psia", all["psi-abs"]);
        all.Add("bara", all["bar-abs"]);
        return new("kPa", all);
    }

    // The factor from a difference of one degree, since two temperatures subtracted would carry rounding; so does the zero, which the library
    // reaches by way of kelvins: 31.999999999999986 °F.
    private static Family Temperatures()
    {
        var celsius = UnitConversion.Identity;
        var kelvin = Of(TemperatureUnit.Kelvin, TemperatureDeltaUnit.Kelvin);
        var fahrenheit = Of(TemperatureUnit.DegreeFahrenheit, TemperatureDeltaUnit.DegreeFahrenheit);
        return new("°C", new(StringComparer.Ordinal)
        {
            ["°C"] = celsius, ["Cel"] = celsius, ["degC"] = celsius, ["C"] = celsius, ["celsius"] = celsius,
            ["K"] = kelvin,
            ["°F"] = fahrenheit, ["degF"] = fahrenheit, ["F"] = fahrenheit, ["fahrenheit"] = fahrenheit,
        });

        static UnitConversion Of(TemperatureUnit unit, TemperatureDeltaUnit difference) => new(
            Math.Round(Temperature.FromDegreesCelsius(0).As(unit), 9), TemperatureDelta.From(1, difference).DegreesCelsius);
    }

    private static Family Ratios(string canonical, params string[] sameAs)
    {
        var fraction = new UnitConversion(0, Ratio.From(1, RatioUnit.DecimalFraction).Percent);
        var all = new Dictionary<string, UnitConversion>(StringComparer.Ordinal)
        {
            [canonical] = UnitConversion.Identity, ["/"] = fraction, ["1"] = fraction, ["ratio"] = fraction,
        };
        foreach (var name in sameAs)
            all.Add(name, UnitConversion.Identity);
        return new(canonical, all);
    }

    private sealed class Family
    {
        public Family(string canonical, Dictionary<string, UnitConversion> all)
        {
            Names = [canonical, .. all.Keys.Where(name => name != canonical)];
            BySpan = all.GetAlternateLookup<ReadOnlySpan<char>>();
        }

        public IReadOnlyList<string> Names { get; }

        public Dictionary<string, UnitConversion>.AlternateLookup<ReadOnlySpan<char>> BySpan { get; }
    }
}
