using CsCheck;

namespace LaserWatch.Physics;

public class CondensateTests
{
    // Saturated vapour, g/m³: by IAPWS-95 (computed with python iapws 1.5.2), and as printed in the CRC Handbook, 62nd edition (read; null where not).
    [Theory]
    [InlineData(2, 5.5630, 5.57)]
    [InlineData(10, 9.4071, 9.42)]
    [InlineData(15, 12.8410, null)]
    [InlineData(20, 17.3140, 17.33)]
    [InlineData(26, 24.4064, 24.43)]
    [InlineData(30, 30.4152, 30.43)]
    [InlineData(35, 39.6743, null)]
    [InlineData(40, 51.2423, null)]
    public void Saturated_air_holds_what_the_steam_tables_say_within_six_thousandths(double celsius, double iapws, double? handbook)
    {
        Assert.Equal(iapws, Condensate.SaturatedVapour(celsius), 0.006 * iapws);
        if (handbook is { } printed)
            Assert.Equal(printed, Condensate.SaturatedVapour(celsius), 0.007 * printed);
    }

    // ASHRAE Fundamentals 2017, chapter 1, table 3 (as the tests of the package psychrolib have it), Pa.
    [Theory]
    [InlineData(5, 872.6)]
    [InlineData(25, 3169.7)]
    [InlineData(50, 12351.3)]
    public void Saturation_pressure_is_that_of_the_handbook_within_four_thousandths(double celsius, double pascals) =>
        Assert.Equal(pascals, Condensate.SaturationPressure(celsius) * 1000, 0.004 * pascals);

    [Fact]
    public void Saturated_air_of_35_degrees_at_8_bar_absolute_gives_the_compressor_handbooks_35_grams()
    {
        // 34.68 g published (read in a compressor maker's text), by the simple volume form; 34.778 g by the humidity-ratio form (computed).
        var grams = Condensate.PerCubicMetre(35, 100, 800 - 101.325, 35);

        Assert.Equal(34.778, grams, 0.002 * 34.778);
        Assert.Equal(34.68, grams, 0.004 * 34.68);
    }

    // Computed with the same balance in another program; kg/h, first what enters.
    [Theory]
    [InlineData(12_000, 20, 80, 700, 20, 9.93, 8.39)]
    [InlineData(12_000, 20, 80, 700, 3, 9.93, 9.43)]
    [InlineData(100, 25, 60, 700, 30, 0.082675, 0.059648)]
    [InlineData(100, 30, 80, 700, 35, null, 0.115626)]
    [InlineData(200, 20, 50, 600, 25, null, 0.063237)]
    [InlineData(100, 25, 60, 150, 25, null, 0.027468)]
    public void Water_of_a_compressor_an_hour(double litresPerMinute, double celsius, double humidity, double gauge, double cooled, double? enters, double condenses)
    {
        var kilogramsPerGram = litresPerMinute * 60 / 1000 / 1000;

        Assert.Equal(condenses, Condensate.PerCubicMetre(celsius, humidity, gauge, cooled) * kilogramsPerGram, 0.001 * condenses);
        if (enters is { } all)
            Assert.Equal(all, Condensate.InRoomAir(celsius, humidity) * kilogramsPerGram, 0.001 * all);
    }

    [Fact]
    public void The_published_six_grams_that_were_read_off_a_graph_are_met_within_its_seven_percent()
    {
        var grams = Condensate.PerCubicMetre(20, 70, 800, 40);

        Assert.Equal(5.996, grams, 0.006);
        Assert.Equal(6.4, grams, 0.07 * 6.4);
    }

    [Fact]
    public void No_more_condenses_than_was_there_and_more_pressure_or_cold_never_gives_less() =>
        Gen.Select(Gen.Double[2, 40], Gen.Double[0, 100], Gen.Double[0, 1000], Gen.Double[2, 60]).Sample((room, humidity, gauge, cooled) =>
        {
            var grams = Condensate.PerCubicMetre(room, humidity, gauge, cooled);

            Assert.InRange(grams, 0, Condensate.InRoomAir(room, humidity) * 1.0001);
            Assert.True(Condensate.PerCubicMetre(room, humidity, gauge + 50, cooled) >= grams);
            Assert.True(Condensate.PerCubicMetre(room, humidity, gauge, cooled - 1) >= grams);
        });
}
