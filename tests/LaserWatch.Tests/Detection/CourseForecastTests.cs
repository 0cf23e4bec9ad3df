using LaserWatch.Models;

namespace LaserWatch.Rules;

public class CourseForecastTests
{
    private const double Horizon = 40;

    [Fact]
    public void A_straight_course_goes_on_about_straight()
    {
        // 0.1 K per bin: 23.9 °C is 20 bins away.
        var bins = Course(i => 20 + (0.1 * i));
        var forecast = new CourseForecast(bins, new CourseForecast.Way[CourseForecast.Ways]);

        Assert.True(forecast.Probability(23.9, 16) < 0.05);
        Assert.True(forecast.Probability(23.9, 30) > 0.95);
        Assert.InRange(forecast.BinsTo(23.9, 0.5, 240)!.Value, 19, 24);
    }

    // T = 28 - 4 e^(-i/16): 27.05 at the newest, and bound for 28.
    [Fact]
    public void A_warm_up_is_followed_to_where_it_settles()
    {
        var bins = Course(i => 28 - (4 * Math.Exp(-i / 16.0)));
        var forecast = new CourseForecast(bins, new CourseForecast.Way[CourseForecast.Ways]);

        Assert.True(forecast.Probability(27.5, Horizon) > 0.9);
        Assert.True(forecast.Probability(29, Horizon) < 0.05);
        Assert.Null(forecast.BinsTo(29, 0.5, 240));
    }

    [Fact]
    public void A_course_that_has_only_begun_to_rise_leaves_open_where_it_goes()
    {
        var bins = Course(i => 25 + (0.09 * Math.Max(0, i - 10)));
        var forecast = new CourseForecast(bins, new CourseForecast.Way[CourseForecast.Ways]);

        // Straight on it would be there after 30 bins.
        Assert.InRange(forecast.Probability(28.5, Horizon), 0.1, 0.9);
    }

    [Fact]
    public void The_later_the_probabler_and_the_interval_holds_the_wanted_share()
    {
        var bins = Course(i => 25 + (2 * (1 - Math.Exp(-i / 30.0))), new Random(3));
        var forecast = new CourseForecast(bins, new CourseForecast.Way[CourseForecast.Ways]);
        var before = 0.0;
        for (var at = 1; at <= 240; at++)
        {
            var probability = forecast.Probability(26.5, at);
            Assert.True(probability >= before - 1e-9);
            before = probability;
        }

        Assert.Equal(0.5, forecast.Probability(26.5, forecast.BinsTo(26.5, 0.5, 240)!.Value), 0.05);
    }

    // A forecast by Bayes' rule is right as often as it says, where nature draws as its priors do.
    [Fact]
    public void What_it_calls_nineteen_times_in_twenty_comes_to_be_so_as_often()
    {
        var random = new Random(20260715);
        int sure = 0, sureReached = 0, doubtful = 0, doubtfulReached = 0;
        double told = 0, reached = 0;
        const int Draws = 4000;
        for (var draw = 0; draw < Draws; draw++)
        {
            var tau = random.Next(11) is < 10 and var j ? 8 * Math.Pow(2, j / 2.0) : 1e6;
            var onset = random.Next(2) == 0 ? 0 : random.Next(3, 11);
            var (slope, before) = (0.2 * random.NextDouble(), 0.4 * (random.NextDouble() - 0.5));
            double At(double i) => 25 + ((i < onset ? before : slope) * tau * (1 - Math.Exp(-(i - onset) / tau)));
            var bins = Course(At, random);
            var limit = At(CourseForecast.Bins - 1) + (4 * random.NextDouble());
            var probability = new CourseForecast(bins, new CourseForecast.Way[CourseForecast.Ways]).Probability(limit, Horizon);
            var so = At(CourseForecast.Bins - 1 + Horizon) >= limit ? 1 : 0;
            told += probability;
            reached += so;
            if (probability >= 0.95)
                (sure, sureReached) = (sure + 1, sureReached + so);
            if (probability <= 0.05)
                (doubtful, doubtfulReached) = (doubtful + 1, doubtfulReached + so);
        }

        Assert.True(sure > Draws / 8 && doubtful > Draws / 8, $"{sure} {doubtful}");
        // Three standard errors of so many draws.
        Assert.True(sureReached >= (0.95 * sure) - (3 * Math.Sqrt(0.95 * 0.05 * sure)), $"{sureReached} of {sure}");
        Assert.True(doubtfulReached <= (0.05 * doubtful) + (3 * Math.Sqrt(0.95 * 0.05 * doubtful)), $"{doubtfulReached} of {doubtful}");
        Assert.Equal(reached / Draws, told / Draws, 0.03);
    }

    private static double[] Course(Func<double, double> at, Random? random = null)
    {
        var bins = new double[CourseForecast.Bins];
        for (var i = 0; i < bins.Length; i++)
            bins[i] = at(i) + (random is null ? 0 : 0.03 * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble()));
        return bins;
    }
}
