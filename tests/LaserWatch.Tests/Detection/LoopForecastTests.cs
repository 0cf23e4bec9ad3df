using CsCheck;
using LaserWatch.Models;

namespace LaserWatch.Rules;

public class LoopForecastTests
{
    // T(t) = rest + (now - rest) e^(-t/tau): from 25 toward 35 with 10 min, 30 is half way, after 10 ln 2 min.
    [Fact]
    public void A_limit_half_way_is_reached_after_the_half_life()
    {
        var (minutes, soonest, latest, bound) = new LoopForecast(25, 35, 1, 600).MinutesTo(30);

        Assert.Equal((10 * Math.Log(2), 35.0), (minutes, bound!.Value));
        Assert.Equal(10 * Math.Log(11.645 / 6.645), soonest!.Value, 1e-9);
        Assert.Equal(10 * Math.Log(8.355 / 3.355), latest!.Value, 1e-9);
    }

    [Fact]
    public void A_loop_bound_for_below_the_limit_never_reaches_it()
    {
        var forecast = new LoopForecast(25, 29, 0.3, 600);

        Assert.Equal(double.PositiveInfinity, forecast.MinutesTo(30).Minutes);
        Assert.Null(forecast.MinutesTo(30).Latest);
        Assert.True(forecast.Probability(30, 10) < 0.001);
    }

    [Fact]
    public void The_probability_is_the_share_of_possible_resting_points_that_reach_the_limit_in_time() =>
        Gen.Select(Gen.Double[20, 29], Gen.Double[20, 45], Gen.Double[0.1, 4], Gen.Double[100, 5000], Gen.Double[1, 60]).Sample((now, rest, error, tau, minutes) =>
        {
            var random = new Random(1);
            var forecast = new LoopForecast(now, rest, error, tau);
            var reached = 0;
            for (var i = 0; i < 2000; i++)
            {
                var one = rest + (error * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble()));
                reached += one + ((now - one) * Math.Exp(-minutes * 60 / tau)) >= 30 ? 1 : 0;
            }

            Assert.Equal(forecast.Probability(30, minutes), reached / 2000.0, 0.06);
        });
}
