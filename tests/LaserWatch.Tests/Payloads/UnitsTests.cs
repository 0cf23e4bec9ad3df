using LaserWatch.Telemetry;
using UnitsNet;
using UnitsNet.Units;

namespace LaserWatch.Payloads;

public class UnitsTests
{
    // Factors by definition: inch-pound units of the international yard and pound (1959), bar, standard atmosphere ISO 2533 (memory).
    [Theory]
    [InlineData("kPa", "kPa", 210, 210)]
    [InlineData("kPa", "bar", 2.1, 210)]
    [InlineData("kPa", "mbar", 2100, 210)]
    [InlineData("kPa", "Pa", 210_000, 210)]
    [InlineData("kPa", "hPa", 2100, 210)]
    [InlineData("kPa", "MPa", 0.21, 210)]
    [InlineData("kPa", "psi", 30, 206.842718795)]
    [InlineData("kPa", "psig", 30, 206.842718795)]
    [InlineData("kPa", "kgf/cm2", 1, 98.0665)]
    [InlineData("kPa", "kPa-abs", 101.325, 0)]
    [InlineData("kPa", "bar-abs", 3.01325, 200)]
    [InlineData("kPa", "psia", 14.695948775, 0)]
    [InlineData("°C", "Cel", 21.5, 21.5)]
    [InlineData("°C", "K", 295.15, 22)]
    [InlineData("°C", "°F", 212, 100)]
    [InlineData("°C", "degF", 32, 0)]
    [InlineData("°C", "F", -40, -40)]
    [InlineData("mA", "A", 0.0182, 18.2)]
    [InlineData("mA", "uA", 18_200, 18.2)]
    [InlineData("mA", "µA", 18_200, 18.2)]
    [InlineData("L/min", "l/s", 0.05, 3)]
    [InlineData("L/min", "m3/h", 0.12, 2)]
    [InlineData("L/min", "gal/min", 1, 3.785411784)]
    [InlineData("L/min", "cfm", 1, 28.316846592)]
    [InlineData("L/min", "m3/s", 0.0001, 6)]
    [InlineData("%", "/", 0.66, 66)]
    [InlineData("%", "%", 66, 66)]
    [InlineData("%RH", "%", 45, 45)]
    [InlineData("%RH", "/", 0.45, 45)]
    [InlineData("h", "s", 5400, 1.5)]
    [InlineData("h", "min", 90, 1.5)]
    [InlineData("", "/", 1, 1)]
    [InlineData("Ohm", "kOhm", 10, 10_000)]
    [InlineData("V", "mV", 500, 0.5)]
    public void A_value_in_any_known_unit_becomes_one_in_the_canonical(string canonical, string unit, double value, double expected)
    {
        Assert.True(Units.TryGet(canonical, unit, out var conversion));
        Assert.Equal(expected, conversion.Apply(value), 1e-8);
    }

    public static TheoryData<string, string, Enum, Enum> OfTheLibrary => new()
    {
        { "mA", "A", ElectricCurrentUnit.Ampere, ElectricCurrentUnit.Milliampere },
        { "mA", "uA", ElectricCurrentUnit.Microampere, ElectricCurrentUnit.Milliampere },
        { "A", "µA", ElectricCurrentUnit.Microampere, ElectricCurrentUnit.Ampere },
        { "mV", "V", ElectricPotentialUnit.Volt, ElectricPotentialUnit.Millivolt },
        { "V", "uV", ElectricPotentialUnit.Microvolt, ElectricPotentialUnit.Volt },
        { "Ohm", "kΩ", ElectricResistanceUnit.Kiloohm, ElectricResistanceUnit.Ohm },
        { "L/min", "L/s", VolumeFlowUnit.LiterPerSecond, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "l/h", VolumeFlowUnit.LiterPerHour, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "mL/min", VolumeFlowUnit.MilliliterPerMinute, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "m3/s", VolumeFlowUnit.CubicMeterPerSecond, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "m3/min", VolumeFlowUnit.CubicMeterPerMinute, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "m³/h", VolumeFlowUnit.CubicMeterPerHour, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "gpm", VolumeFlowUnit.UsGallonPerMinute, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "gal/h", VolumeFlowUnit.UsGallonPerHour, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "ft3/min", VolumeFlowUnit.CubicFootPerMinute, VolumeFlowUnit.LiterPerMinute },
        { "L/min", "CFH", VolumeFlowUnit.CubicFootPerHour, VolumeFlowUnit.LiterPerMinute },
        { "h", "min", DurationUnit.Minute, DurationUnit.Hour },
        { "h", "ms", DurationUnit.Millisecond, DurationUnit.Hour },
        { "h", "d", DurationUnit.Day, DurationUnit.Hour },
        { "s", "h", DurationUnit.Hour, DurationUnit.Second },
        { "kPa", "Pa", PressureUnit.Pascal, PressureUnit.Kilopascal },
        { "kPa", "hPa", PressureUnit.Hectopascal, PressureUnit.Kilopascal },
        { "kPa", "MPa", PressureUnit.Megapascal, PressureUnit.Kilopascal },
        { "kPa", "bar", PressureUnit.Bar, PressureUnit.Kilopascal },
        { "kPa", "mbar", PressureUnit.Millibar, PressureUnit.Kilopascal },
        { "kPa", "psi", PressureUnit.PoundForcePerSquareInch, PressureUnit.Kilopascal },
        { "kPa", "kgf/cm²", PressureUnit.KilogramForcePerSquareCentimeter, PressureUnit.Kilopascal },
        { "kPa", "mmHg", PressureUnit.MillimeterOfMercury, PressureUnit.Kilopascal },
        { "kPa", "inHg", PressureUnit.InchOfMercury, PressureUnit.Kilopascal },
        { "kPa", "atm", PressureUnit.Atmosphere, PressureUnit.Kilopascal },
        { "°C", "K", TemperatureUnit.Kelvin, TemperatureUnit.DegreeCelsius },
        { "°C", "°F", TemperatureUnit.DegreeFahrenheit, TemperatureUnit.DegreeCelsius },
        { "%", "ratio", RatioUnit.DecimalFraction, RatioUnit.Percent },
    };

    // The library writes some factors with eight digits only, such as that of mercury.
    [Theory]
    [MemberData(nameof(OfTheLibrary))]
    public void A_library_of_units_says_the_same(string canonical, string unit, Enum from, Enum to)
    {
        Assert.True(Units.TryGet(canonical, unit, out var conversion));
        var expected = UnitConverter.Convert(321.5, from, to);
        Assert.Equal(expected, conversion.Apply(321.5), Math.Abs(expected) * 1e-7);
    }

    [Theory]
    [InlineData("°C", "°F", -40, -40)]
    [InlineData("°C", "°F", 77, 25)]
    [InlineData("°C", "K", 295.15, 22)]
    [InlineData("kPa", "bar", 2.1, 210)]
    [InlineData("kPa", "mbar", 2100, 210)]
    [InlineData("mA", "A", 0.018, 18)]
    public void Round_values_stay_round(string canonical, string unit, double value, double expected)
    {
        Assert.True(Units.TryGet(canonical, unit, out var conversion));
        Assert.Equal(expected, conversion.Apply(value));
    }

    [Fact]
    public void Every_channel_takes_its_own_unit_unchanged()
    {
        foreach (var channel in Channel.Canonical)
        {
            Assert.True(Units.TryGet(channel.Unit, channel.Unit, out var conversion));
            Assert.Equal(UnitConversion.Identity, conversion);
            Assert.Equal(channel.Unit, Units.Known(channel.Unit)[0]);
        }
    }

    [Theory]
    [InlineData("kPa", "mPa")]
    [InlineData("kPa", "Kpa")]
    [InlineData("°C", "psi")]
    [InlineData("%RH", "%EL")]
    [InlineData("", "V")]
    [InlineData("rpm", "Hz")]
    public void A_unit_of_another_kind_or_spelling_is_not_known(string canonical, string unit) =>
        Assert.False(Units.TryGet(canonical, unit, out _));

    [Fact]
    public void A_unit_nobody_heard_of_is_known_where_it_is_the_channels_own() =>
        Assert.True(Units.TryGet("rpm", "rpm", out _));

    [Fact]
    public void The_explanation_lists_what_would_do()
    {
        Assert.Equal("unit 'psi' is not known for coolant_in (°C): use one of °C, Cel, degC, C, celsius, K, °F, degF, F, fahrenheit", Units.Explain("coolant_in", "°C", "psi"));
        Assert.Equal("unit 'Hz' is not known for pump (rpm): use one of rpm", Units.Explain("pump", "rpm", "Hz"));
    }
}
