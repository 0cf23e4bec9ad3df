namespace LaserWatch.Physics;

public class AirNozzleTests
{
    [Fact]
    public void The_critical_ratio_and_the_choked_constant_are_the_published_ones()
    {
        // 0.528 and 0.0404 read in pages on choked flow; the further digits computed.
        Assert.Equal(0.5282817877, AirNozzle.CriticalRatio, 1e-9);
        Assert.Equal(0.0404148996, AirNozzle.ChokedConstant, 1e-9);
        // 80 psig upstream is choked below 35.330 psig (published as 35.30; read).
        Assert.Equal(35.330, ((80 + 14.6959) * AirNozzle.CriticalRatio) - 14.6959, 0.01);
    }

    // The first two: read as an example on a page on choked flow (0.341 kg/s, which implies Cd = 0.97); all to the last digit computed.
    [Theory]
    [InlineData(250, 6.0, 2.8, 298.15, 1, 0.351087)]
    [InlineData(250, 6.0, 2.8, 298.15, 0.97, 0.340555)]
    [InlineData(Math.PI, 1.5, 1.01325, 293.15, 1, 0.001057525)]
    [InlineData(Math.PI / 4, 3.01325, 1.01325, 293.15, 1, 0.000558627)]
    [InlineData(Math.PI * 2.25 / 4, 3.01325, 1.01325, 293.15, 1, 0.001256910)]
    [InlineData(Math.PI, 3.01325, 1.01325, 293.15, 1, 0.002234506)]
    [InlineData(Math.PI * 9 / 4, 3.01325, 1.01325, 293.15, 1, 0.005027639)]
    public void The_mass_flow_is_that_of_the_isentropic_nozzle(double area, double p1, double p2, double kelvin, double discharge, double flow) =>
        Assert.Equal(flow, AirNozzle.MassFlow(area, p1, p2, kelvin, discharge), flow * 2e-6);

    // Computed; S[mm²] = 5.0·C from memory.
    [Theory]
    [InlineData(1.0, 28.2849, 0.156447)]
    [InlineData(1.5, 63.6410, 0.352006)]
    [InlineData(2.0, 113.1396, 0.625789)]
    [InlineData(3.0, 254.5640, 1.408026)]
    public void Free_air_and_conductance_of_a_round_nozzle_at_two_bar(double millimetres, double litresPerMinute, double conductance)
    {
        var area = Math.PI * millimetres * millimetres / 4;

        Assert.Equal(litresPerMinute, AirNozzle.FreeAirLitresPerMinute(AirNozzle.MassFlow(area, 3.01325, 1.01325, 293.15)), 0.001);
        Assert.Equal(conductance, AirNozzle.Conductance(area), 2e-6);
    }

    [Fact]
    public void Nothing_flows_without_a_fall_of_pressure() => Assert.Equal(0, AirNozzle.MassFlow(1, 1, 1, 293.15));
}
