using LaserWatch.Telemetry;

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
/// The factors stand here and not in a library of units, whose tables cost an agent megabytes and a part of its start; the tests hold them to one.
/// Names are compared letter by letter, since <c>mPa</c> and <c>MPa</c> differ. A channel whose unit is not one of the families here takes
/// only its own unit. Pressures are gauge unless the name says absolute (<c>kPa-abs</c>, <c>bar-abs</c>, <c>psia</c>): from those the standard
/// atmosphere, 101.325 kPa (ISO 2533), is taken off, which is 1 to 3 kPa out with the weather and about 12 kPa too much per 1000 m of
/// height; there, calibrate with <c>linear</c> against the sensor at rest instead. The SenML unit <c>Pa</c> is read as gauge, too.
/// </remarks>
public static class Units
{
    /// <summary>The standard atmosphere of ISO 2533, in kPa.</summary>
    public const double StandardAtmosphereKilopascals = 101.325;

    // By definition: the pound and the yard of 1959 with standard gravity, the US gallon of 231 cubic inches; litres, and kPa.
    private const double PoundPerSquareInch = 4.4482216152605 / 0.64516;
    private const double UsGallon = 3.785411784;
    private const double CubicFoot = 28.316846592;

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
        (string, double)[] milliamperes = [("A", 1000), ("mA", 1), ("uA", 0.001), ("µA", 0.001), ("μA", 0.001)];
        (string, double)[] amperes = [("A", 1), ("mA", 0.001), ("uA", 1e-6), ("µA", 1e-6), ("μA", 1e-6)];
        (string, double)[] volts = [("V", 1), ("mV", 0.001), ("uV", 1e-6), ("µV", 1e-6), ("μV", 1e-6)];
        (string, double)[] millivolts = [("V", 1000), ("mV", 1), ("uV", 0.001), ("µV", 0.001), ("μV", 0.001)];
        (string, double)[] ohms = [("Ohm", 1), ("ohm", 1), ("Ω", 1), ("kOhm", 1000), ("kohm", 1000), ("kΩ", 1000)];
        (string, double)[] flows =
        [
            ("L/min", 1), ("l/min", 1), ("lpm", 1), ("LPM", 1), ("L/s", 60), ("l/s", 60), ("L/h", 1 / 60.0), ("l/h", 1 / 60.0), ("mL/min", 0.001),
            ("ml/min", 0.001), ("m3/s", 60_000), ("m3/min", 1000), ("m3/h", 1000 / 60.0), ("m³/h", 1000 / 60.0), ("gal/min", UsGallon), ("gpm", UsGallon),
            ("GPM", UsGallon), ("gal/h", UsGallon / 60), ("cfm", CubicFoot), ("CFM", CubicFoot), ("ft3/min", CubicFoot), ("cfh", CubicFoot / 60), ("CFH", CubicFoot / 60),
        ];
        (string, double)[] hours = [("h", 1), ("min", 1 / 60.0), ("s", 1 / 3600.0), ("ms", 1 / 3_600_000.0), ("d", 24)];
        (string, double)[] seconds = [("h", 3600), ("min", 60), ("s", 1), ("ms", 0.001), ("d", 86_400)];

        return new(StringComparer.Ordinal)
        {
            ["mA"] = Linear("mA", milliamperes),
            ["A"] = Linear("A", amperes),
            ["V"] = Linear("V", volts),
            ["mV"] = Linear("mV", millivolts),
            ["Ohm"] = Linear("Ohm", ohms),
            ["L/min"] = Linear("L/min", flows),
            ["h"] = Linear("h", hours),
            ["s"] = Linear("s", seconds),
            ["kPa"] = Pressures(),
            ["°C"] = Temperatures(),
            ["%"] = Ratios("%", "percent"),
            ["%RH"] = Ratios("%RH", "%", "percent"),
            [""] = new("", new(StringComparer.Ordinal) { [""] = UnitConversion.Identity, ["/"] = UnitConversion.Identity, ["1"] = UnitConversion.Identity }),
        };
    }

    // A family whose zeros agree, so that one factor is the whole conversion.
    private static Family Linear(string canonical, (string Name, double Factor)[] units) =>
        new(canonical, units.ToDictionary(unit => unit.Name, unit => new UnitConversion(0, unit.Factor), StringComparer.Ordinal));

    private static Family Pressures()
    {
        (string Name, double Kilopascals)[] plain =
        [
            ("kPa", 1), ("Pa", 0.001), ("hPa", 0.1), ("MPa", 1000), ("bar", 100), ("mbar", 0.1), ("psi", PoundPerSquareInch), ("kgf/cm2", 98.0665),
            ("kgf/cm²", 98.0665), ("mmHg", 0.133322387415), ("inHg", 25.4 * 0.133322387415), ("atm", StandardAtmosphereKilopascals),
        ];
        var all = new Dictionary<string, UnitConversion>(StringComparer.Ordinal);
        foreach (var (name, kilopascals) in plain)
            all.Add(name, new(0, kilopascals));
        all.Add("psig", all["psi"]);
        all.Add("barg", all["bar"]);
        foreach (var name in new[] { "kPa", "Pa", "hPa", "MPa", "bar", "mbar", "psi" })
            all.Add(name + "-abs", new(Math.Round(StandardAtmosphereKilopascals / all[name].Factor, 9), all[name].Factor));
        all.Add("psia", all["psi-abs"]);
        all.Add("bara", all["bar-abs"]);
        return new("kPa", all);
    }

    private static Family Temperatures()
    {
        var celsius = UnitConversion.Identity;
        var kelvin = new UnitConversion(273.15, 1);
        var fahrenheit = new UnitConversion(32, 5 / 9.0);
        return new("°C", new(StringComparer.Ordinal)
        {
            ["°C"] = celsius, ["Cel"] = celsius, ["degC"] = celsius, ["C"] = celsius, ["celsius"] = celsius,
            ["K"] = kelvin,
            ["°F"] = fahrenheit, ["degF"] = fahrenheit, ["F"] = fahrenheit, ["fahrenheit"] = fahrenheit,
        });
    }

    private static Family Ratios(string canonical, params string[] sameAs)
    {
        var fraction = new UnitConversion(0, 100);
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
