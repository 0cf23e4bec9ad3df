using LaserWatch.Models;

namespace LaserWatch.Demo;

public class AirLineTests
{
    // Steady state of a supply of 2.0 bar(g), a line with C = 1.0 and b = 0.3, the sensor, a nozzle with C = 0.35 and b = 0.5, and
    // a room at 1.01325 bar, by the ISO 6358 formula. Computed apart from this code; pressure in bar(g), flow in L/min of free air.
    [Theory]
    [InlineData("sound", 200, 1, 1, 1.8775, 60.7066)]
    [InlineData("regulator a fifth low", 160, 1, 1, 1.4938, 52.6480)]
    [InlineData("tank run down", 50, 1, 1, 0.4473, 28.2760)]
    [InlineData("line at 30 %", 200, 0.3, 1, 1.1016, 44.4113)]
    [InlineData("line at 10 %", 200, 0.1, 1, 0.1794, 17.9093)]
    [InlineData("nozzle half closed", 200, 1, 0.5, 1.9681, 31.3046)]
    [InlineData("nozzle nine tenths closed", 200, 1, 0.1, 1.9987, 6.3251)]
    [InlineData("nozzle off", 200, 1, 4, 0.8877, 159.3267)]
    public void Pressure_and_flow_of_each_case_are_the_computed_ones(
        string what, double regulator, double line, double nozzle, double pressureBar, double flow)
    {
        var steady = AirLine.Steady(regulator, line, nozzle);

        Assert.True(Math.Abs((steady.Pressure / 100) - pressureBar) < 1e-4, $"{what}: {steady}");
        Assert.True(Math.Abs(steady.Flow - flow) < 2e-3, $"{what}: {steady}");
    }

    // C dm³/(s·bar), b, pressures in bar absolute, flow dm³/s of free air. Formula from memory, computed apart from this code.
    [Theory]
    [InlineData(1.0, 0.3, 7.0, 1.0, 7.000000)]
    [InlineData(1.0, 0.3, 7.0, 6.0, 4.237828)]
    [InlineData(1.0, 0.3, 7.0, 5.0, 5.642405)]
    [InlineData(0.35, 0.5, 3.01325, 1.01325, 1.054637)]
    [InlineData(0.35, 0.5, 1.51325, 1.01325, 0.498243)]
    [InlineData(2.0, 0.21, 6.3, 5.3, 7.575503)]
    public void Flow_through_a_part_is_that_of_the_standard(double c, double b, double upstream, double downstream, double flow) =>
        Assert.Equal(flow, AirLine.FlowThrough(c, b, upstream, downstream), 5e-7);

    [Fact]
    public void The_setting_for_a_pressure_gives_that_pressure() =>
        Assert.Equal(210, AirLine.Steady(AirLine.SettingFor(210), 1, 1).Pressure, 1e-3);

    [Fact]
    public void With_the_valve_open_the_tank_goes_up_and_down_and_the_pressure_follows_a_little()
    {
        var air = new AirLine(new SeededNoise(1)) { RegulatorSetting = AirLine.SettingFor(210) };
        var (tank, pressure) = (new List<double>(), new List<double>());
        for (var i = 0; i < 6000; i++)
        {
            air.Step(0.1, valveOpen: true);
            tank.Add(air.TankPressure);
            if (i > 50)
                pressure.Add(air.Pressure);
        }

        Assert.InRange(tank.Min(), 530, 560);
        Assert.InRange(tank.Max(), 740, 770);
        Assert.InRange(pressure.Min(), 203, 209);
        Assert.InRange(pressure.Max(), 211, 217);
    }
}
