namespace LaserWatch.Physics;

public class WaterTests
{
    // IAPWS-95 at 101.325 kPa, computed with python3-iapws 1.5.2 (checked against IAPWS R6-95(2018) table 7).
    [Theory]
    [InlineData(5, 999.966634, 4.205038)]
    [InlineData(10, 999.702470, 4.195159)]
    [InlineData(15, 999.102621, 4.188461)]
    [InlineData(18, 998.598633, 4.185584)]
    [InlineData(20, 998.207150, 4.184051)]
    [InlineData(22, 997.773489, 4.182783)]
    [InlineData(25, 997.047637, 4.181315)]
    [InlineData(30, 995.649454, 4.179820)]
    [InlineData(35, 994.033315, 4.179258)]
    [InlineData(40, 992.216353, 4.179415)]
    [InlineData(45, 990.212898, 4.180142)]
    [InlineData(50, 988.035046, 4.181342)]
    public void Density_and_heat_capacity_are_those_of_IAPWS_95(double celsius, double density, double heatCapacity)
    {
        Assert.Equal(density, Water.Density(celsius), 0.004);
        Assert.Equal(heatCapacity, Water.HeatCapacity(celsius), 0.0001);
    }

    // Q = rho cp V dT, rho and cp at the mean temperature; computed with IAPWS-95.
    [Theory]
    [InlineData(2, 20, 5, 696.092)]
    [InlineData(3, 22, 2, 417.347)]
    [InlineData(1.5, 20, 4, 417.655)]
    [InlineData(2, 15, 5, 697.450)]
    [InlineData(2, 30, 5, 693.606)]
    [InlineData(1, 20, 1, 69.609)]
    public void Heat_flow_is_density_times_capacity_times_flow_times_rise(double flow, double mean, double rise, double watts)
    {
        var heat = Water.HeatFlowWatts(flow, mean - (rise / 2), mean + (rise / 2));

        Assert.Equal(watts, heat, watts * 3e-5);
        Assert.Equal(-heat, Water.HeatFlowWatts(flow, mean + (rise / 2), mean - (rise / 2)), 1e-9);
    }

    [Theory]
    [InlineData(-127, 0)]
    [InlineData(600, 60)]
    public void A_temperature_water_cannot_have_counts_as_the_nearest_end(double said, double taken)
    {
        Assert.Equal(Water.Density(taken), Water.Density(said));
        Assert.Equal(Water.HeatCapacity(taken), Water.HeatCapacity(said));
    }
}
