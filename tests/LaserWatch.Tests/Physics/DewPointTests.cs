using CsCheck;

namespace LaserWatch.Physics;

public class DewPointTests
{
    // Magnus 17.62/243.12 over water = WMO-No. 8 Annex 4.B; constants read in a station manual that cites it, values computed.
    // The third figure is the same by IAPWS-IF97 saturation pressure (computed with python3-iapws 1.5.2).
    [Theory]
    [InlineData(5, 0.6, -2.1303, null)]
    [InlineData(10, 0.5, 0.0409, null)]
    [InlineData(15, 0.4, 1.4945, 1.5235)]
    [InlineData(18, 0.6, 10.1149, 10.1284)]
    [InlineData(20, 0.5, 9.2552, 9.2728)]
    [InlineData(20, 1.0, 20.0, 20.0)]
    [InlineData(22, 0.7, 16.2740, 16.2808)]
    [InlineData(25, 0.3, 6.2113, 6.2388)]
    [InlineData(25, 0.6, 16.6931, 16.7010)]
    [InlineData(28, 0.4, 13.1390, 13.1530)]
    [InlineData(30, 0.8, 26.1688, null)]
    [InlineData(35, 0.3, 14.8364, 14.8431)]
    [InlineData(40, 0.4, 23.8336, 23.8215)]
    public void The_dew_point_is_that_of_the_WMO_formula_and_within_four_hundredths_of_IF97(
        double air, double humidity, double magnus, double? if97)
    {
        var dewPoint = DewPoint.FromRelativeHumidity(air, humidity * 100);

        Assert.Equal(magnus, dewPoint, 0.00006);
        if (if97 is { } full)
            Assert.Equal(full, dewPoint, 0.04);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(-3)]
    [InlineData(double.NaN)]
    public void Air_without_water_has_no_dew_point(double percent) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => DewPoint.FromRelativeHumidity(20, percent));

    [Fact]
    public void Air_at_the_dew_point_and_saturated_has_that_dew_point() =>
        Gen.Select(Gen.Double[0, 40], Gen.Double[0.2, 1.0]).Sample((air, humidity) =>
        {
            var dewPoint = DewPoint.FromRelativeHumidity(air, humidity * 100);
            Assert.True(dewPoint <= air + 1e-9);
            Assert.Equal(dewPoint, DewPoint.FromRelativeHumidity(dewPoint, 100), 1e-9);
        });
}
