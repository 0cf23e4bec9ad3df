using CsCheck;

namespace LaserWatch.Physics;

public class SonicConductanceTests
{
    // ISO 6358-1:2013, formula from memory, values computed with it in another program; T0 = 293.15 K, p0 = 1 bar (ANR).
    [Theory]
    [InlineData(1.0, 0.3, 7.0, 1.0, 293.15, 7.000000)]
    [InlineData(1.0, 0.3, 7.0, 6.0, 293.15, 4.237828)]
    [InlineData(1.0, 0.3, 7.0, 5.0, 293.15, 5.642405)]
    [InlineData(0.35, 0.5, 3.01325, 1.01325, 293.15, 1.054637)]
    [InlineData(0.35, 0.5, 1.51325, 1.01325, 293.15, 0.498243)]
    [InlineData(2.0, 0.21, 6.3, 5.3, 293.15, 7.575503)]
    [InlineData(1.0, 0.3, 7.0, 6.0, 313.15, 4.100266)]
    public void Flow_and_conductance_are_those_of_the_standard(double c, double b, double p1, double p2, double kelvin, double flow)
    {
        Assert.Equal(flow, SonicConductance.Flow(c, b, p1, p2, kelvin), 1e-6);
        Assert.Equal(c, SonicConductance.FromFlow(flow, b, p1, p2, kelvin)!.Value, 1e-6);
    }

    [Fact]
    public void A_nozzle_to_the_room_is_choked_above_one_atmosphere_of_gauge_pressure_by_the_convention_of_the_standard()
    {
        // 1.01325 bar(g) at b = 0.5, closed form; 0.904760 bar(g) at b = 0.5283, computed.
        Assert.Equal(1.01325, SonicConductance.ChokedAboveGaugeBar(0.5), 1e-9);
        Assert.Equal(0.904760, SonicConductance.ChokedAboveGaugeBar(AirNozzle.CriticalRatio), 1e-5);
    }

    [Fact]
    public void The_conductance_found_from_a_nozzles_flow_is_its_own_at_any_pressure() =>
        Gen.Select(Gen.Double[0.02, 3], Gen.Double[3, 900]).Sample((conductance, gauge) =>
            Assert.Equal(conductance, SonicConductance.OfNozzle(SonicConductance.NozzleFlow(conductance, gauge), gauge)!.Value, 1e-9));

    [Fact]
    public void More_pressure_never_means_less_flow() =>
        Gen.Select(Gen.Double[0, 900], Gen.Double[0, 50]).Sample((gauge, more) =>
            Assert.True(SonicConductance.NozzleFlow(0.35, gauge + more) >= SonicConductance.NozzleFlow(0.35, gauge)));

    [Fact]
    public void Without_pressure_nothing_flows_and_no_conductance_can_be_told()
    {
        Assert.Equal(0, SonicConductance.NozzleFlow(0.35, 0));
        Assert.Equal(0, SonicConductance.Flow(1, 0.3, 2, 2));
        Assert.Null(SonicConductance.OfNozzle(10, 0));
        Assert.Null(SonicConductance.FromFlow(1, 0.3, 2, 2));
    }

    [Fact]
    public void What_cannot_be_is_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => SonicConductance.Flow(1, 1, 2, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => SonicConductance.Flow(1, 0.5, 0, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => SonicConductance.Flow(1, 0.5, 2, 1, 0));
    }
}
