namespace LaserWatch.Physics;

public class HeatBalanceTests
{
    // Q = rho cp V dT at the mean temperature; computed with IAPWS-95 (python3-iapws 1.5.2).
    [Theory]
    [InlineData(2, 20, 5, 696.092)]
    [InlineData(3, 22, 2, 417.347)]
    [InlineData(1.5, 20, 4, 417.655)]
    [InlineData(2, 15, 5, 697.450)]
    [InlineData(2, 30, 5, 693.606)]
    [InlineData(1, 20, 1, 69.609)]
    public void Flow_and_rise_follow_from_the_heat(double flow, double mean, double rise, double watts)
    {
        Assert.Equal(flow, HeatBalance.LitresPerMinute(watts, mean - (rise / 2), mean + (rise / 2))!.Value, flow * 3e-5);
        Assert.Equal(rise, HeatBalance.RiseKelvins(watts, flow, mean - (rise / 2)), rise * 3e-5);
    }

    // dT = (VI - P) / (69.609 W/(L/min K) x flow); the last column is the extra rise if a fifth of the light stays in the tube (computed; tube voltage assumed).
    [Theory]
    [InlineData(314, 60, 1.5, 3.007, 0.1149)]
    [InlineData(314, 60, 3.0, 1.504, 0.0575)]
    [InlineData(420, 80, 3.0, 2.011, 0.0766)]
    [InlineData(460, 100, 5.0, 1.322, 0.0575)]
    public void A_fifth_of_the_light_lost_hardly_shows_in_the_rise(double heat, double light, double flow, double rise, double extra)
    {
        // The reference takes 20 °C properties throughout.
        var before = HeatBalance.RiseKelvins(heat, flow, 20 - (rise / 2));
        var after = HeatBalance.RiseKelvins(heat + (light / 5), flow, 20 - (rise / 2));

        Assert.Equal(rise, before, 0.001);
        Assert.Equal(extra, after - before, 0.0002);
        Assert.True(HeatBalance.FlowRatio(before, after) > 0.95);
    }

    [Fact]
    public void Half_the_flow_is_twice_the_rise() => Assert.Equal(0.5, HeatBalance.FlowRatio(1.5, 3.0));

    [Fact]
    public void Without_a_rise_nothing_is_said_of_the_flow()
    {
        Assert.Null(HeatBalance.LitresPerMinute(300, 20, 20));
        Assert.Null(HeatBalance.LitresPerMinute(300, 21, 20));
        Assert.Null(HeatBalance.FlowRatio(0, 2));
        Assert.Throws<ArgumentOutOfRangeException>(() => HeatBalance.RiseKelvins(300, 0, 20));
    }
}
