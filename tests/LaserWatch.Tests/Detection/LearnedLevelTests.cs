using LaserWatch.Models;

namespace LaserWatch.Rules;

public class LearnedLevelTests
{
    private static readonly LevelPrior Prior = new(0, 0.25, 1.5, 6);

    [Fact]
    public void Scores_are_standard_normal_from_the_first_run_on_where_the_belief_was_right()
    {
        var random = new Random(5);
        double[] sums = new double[8];
        double[] squares = new double[8];
        const int shops = 4000;
        for (var shop = 0; shop < shops; shop++)
        {
            // A shop's scatter and level drawn from the belief itself: 1/σ² is Gamma with 6/2 and 6·1.5²/2.
            var chi = Enumerable.Range(0, 6).Sum(_ => Square(Gauss(random)));
            var deviation = Math.Sqrt(6 * 1.5 * 1.5 / chi);
            var mean = deviation / Math.Sqrt(0.25) * Gauss(random);
            var level = new LearnedLevel();
            for (var run = 0; run < sums.Length; run++)
            {
                var value = mean + (deviation * Gauss(random));
                var score = level.Score(value, Prior);
                sums[run] += score;
                squares[run] += score * score;
                level.Learn(value);
            }
        }

        Assert.All(sums, sum => Assert.Equal(0, sum / shops, 4 / Math.Sqrt(shops)));
        Assert.All(squares, square => Assert.Equal(1, square / shops, 6 / Math.Sqrt(shops)));
    }

    [Fact]
    public void Over_runs_a_healthy_shop_hears_of_a_change_no_more_often_than_was_asked_for()
    {
        var random = new Random(8);
        var told = 0;
        for (var shop = 0; shop < 60; shop++)
        {
            var trend = new AirTrend(AirDesigns.OverRuns(10), leastRise: 0, leastFall: 0);
            var level = new LearnedLevel();
            var (deviation, mean) = (0.5 + (3 * random.NextDouble()), 4 * Gauss(random));
            for (var run = 0; run < 2000; run++)
            {
                var value = mean + (deviation * Gauss(random));
                var usual = level.Level(Prior);
                trend.Take(level.Score(value, Prior), value - usual, usual, default, "a");
                if (!trend.IsSuspicious)
                    level.Learn(value);
            }

            told += trend.Direction != 0 ? 1 : 0;
        }

        // Sixty machine-years with one in ten wanted: six, give or take.
        Assert.InRange(told, 0, 14);
    }

    [Fact]
    public void A_step_of_three_deviations_is_told_within_eight_settings()
    {
        var random = new Random(3);
        var trend = new AirTrend(AirDesigns.OverRuns(10), leastRise: 0.5, leastFall: 0.5);
        var level = new LearnedLevel();
        var at = 0;
        for (; trend.Direction == 0 && at < 100; at++)
        {
            var value = 1 + (1.5 * Gauss(random)) - (at >= 30 ? 4.5 : 0);
            var usual = level.Level(Prior);
            trend.Take(level.Score(value, Prior), value - usual, usual, default, "a");
            if (!trend.IsSuspicious)
                level.Learn(value);
        }

        Assert.Equal(-1, trend.Direction);
        Assert.InRange(at, 31, 38);
        Assert.InRange(trend.Shift, -7, -2.5);
    }

    private static double Square(double x) => x * x;

    private static double Gauss(Random random) =>
        Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
}
