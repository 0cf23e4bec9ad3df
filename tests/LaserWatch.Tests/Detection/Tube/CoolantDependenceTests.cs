namespace LaserWatch.Models;

public class CoolantDependenceTests
{
    private readonly Random _random = new(5);

    [Fact]
    public void A_tube_that_loses_half_a_percent_a_kelvin_is_found_out_within_a_fortnight()
    {
        var dependence = new CoolantDependence();

        Days(dependence, 14, perKelvin: -0.005, ageingPerDay: 0);

        Assert.InRange(dependence.PerKelvin, -0.006, -0.004);
        Assert.InRange(dependence.Effect(dependence.ReferenceCelsius + 4), -0.024, -0.016);
    }

    [Fact]
    public void Ageing_while_the_season_warms_is_not_taken_for_it()
    {
        var dependence = new CoolantDependence();

        Days(dependence, 60, perKelvin: 0, ageingPerDay: 0.002, warmingPerDay: 0.1);

        Assert.Equal(0, dependence.PerKelvin);
        Assert.Equal(0, dependence.Effect(30));
    }

    [Fact]
    public void A_correction_has_a_bound()
    {
        var dependence = new CoolantDependence();

        Days(dependence, 14, perKelvin: -0.02, ageingPerDay: 0);

        Assert.Equal(-0.01, dependence.PerKelvin);
        Assert.Equal(-0.03, dependence.Effect(60));
    }

    private void Days(CoolantDependence dependence, int days, double perKelvin, double ageingPerDay, double warmingPerDay = 0)
    {
        for (var day = 0; day < days; day++)
        {
            var wander = 0.006 * Gauss();
            for (var block = 0; block < 60; block++)
            {
                var coolant = 19 + (warmingPerDay * day) + (4 * Math.Sin(block / 60.0 * Math.PI)) + (0.1 * Gauss());
                dependence.Take(coolant, 1 - (ageingPerDay * day) + (perKelvin * (coolant - 19)) + wander + (0.002 * Gauss()), day < 2);
            }

            dependence.EndDay();
        }
    }

    private double Gauss() => Math.Sqrt(-2 * Math.Log(1 - _random.NextDouble())) * Math.Cos(2 * Math.PI * _random.NextDouble());
}
