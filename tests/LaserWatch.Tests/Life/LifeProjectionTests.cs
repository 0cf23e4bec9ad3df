using MathNet.Numerics.Distributions;
using Xunit.Abstractions;

namespace LaserWatch.Life;

public class LifeProjectionTests(ITestOutputHelper output)
{
    /// <summary>Fall a day, error of a day, wander by the square root of a day, days seen.</summary>
    /// <remarks>
    /// Without any wander the interval covers more than it promises: from one series a small wander cannot be told from none, and it is
    /// allowed for. 250 machines each: the standard error of a coverage of 90 % is 2 %.
    /// </remarks>
    [Theory]
    [InlineData(0.0010, 0.010, 0.000, 60)]
    [InlineData(0.0010, 0.003, 0.001, 60)]
    [InlineData(0.0005, 0.005, 0.001, 150)]
    [InlineData(0.0020, 0.010, 0.004, 40)]
    [InlineData(0.0003, 0.003, 0.0005, 250)]
    [InlineData(0.0010, 0.002, 0.004, 100)]
    public void Ninety_percent_intervals_cover_the_true_crossing_that_often(double fall, double error, double wander, int days)
    {
        var random = new Random(days + (int)(1e6 * (fall + wander)));
        var (projected, covered, open) = (0, 0, 0);
        for (var run = 0; run < 250; run++)
        {
            var (times, ratios, errors) = (new List<double>(), new List<double>(), new List<double>());
            var (state, crossed) = (1.0, double.PositiveInfinity);
            for (var day = 0; day < 20_000 && crossed == double.PositiveInfinity; day++)
            {
                // Shops rest at weekends.
                if (day <= days && day % 7 < 5)
                {
                    times.Add(day);
                    ratios.Add(state + Normal.Sample(random, 0, error));
                    errors.Add(error);
                }

                for (var part = 0; part < 8 && crossed == double.PositiveInfinity; part++)
                {
                    state += (-fall / 8) + (wander * Math.Sqrt(1 / 8.0) * Normal.Sample(random, 0, 1));
                    if (state <= 0.85)
                        crossed = day + ((part + 1) / 8.0);
                }
            }

            if (crossed <= days)
                continue;
            var projection = LifeProjection.Project([.. times], [.. ratios], [.. errors]);
            if (projection.Crossing is not { } crossing)
                continue;
            projected++;
            covered += crossing.Low <= crossed && crossed <= (crossing.High ?? double.PositiveInfinity) ? 1 : 0;
            open += crossing.High is null ? 1 : 0;
        }

        var coverage = covered / (double)projected;
        output.WriteLine($"fall {fall}, error {error}, wander {wander}, {days} days: {projected} of 250 projected, {100 * coverage:0.0} % covered, {open} open above");
        Assert.InRange(coverage, 0.85, wander > 0 ? 0.95 : 1);
    }

    [Fact]
    public void A_clear_fall_is_projected_by_line_and_process_alike()
    {
        var random = new Random(11);
        double[] days = [.. Enumerable.Range(0, 80).Select(i => (double)i)];
        double[] ratios = [.. days.Select(d => 1 - (0.001 * d) + Normal.Sample(random, 0, 0.002))];

        var projection = LifeProjection.Project(days, ratios, [.. days.Select(_ => 0.002)]);

        Assert.Null(projection.Refusal);
        Assert.InRange(projection.Line!.Slope, -0.00105, -0.00095);
        Assert.InRange(projection.LineCrossing!.Value.Median!.Value, 145, 155);
        Assert.InRange(projection.Crossing!.Value.Median!.Value, 143, 157);
        Assert.InRange(projection.Crossing.Value.Low, 120, 150);
        Assert.InRange(projection.Crossing.Value.High!.Value, 150, 190);
        Assert.Equal(0.5, projection.ProbabilityBy(projection.Crossing.Value.Median.Value)!.Value, 1e-3);
    }

    [Theory]
    [InlineData(7, 0.01, "7 estimates are too few: 8 are the least")]
    [InlineData(60, -0.001, "the ratio does not fall")]
    [InlineData(12, 0.00002, "the fall is not significant")]
    [InlineData(100, 0.003, "the threshold is passed already")]
    public void What_cannot_be_projected_is_refused_with_its_reason(int count, double byDay, string reason)
    {
        var random = new Random(3);
        double[] days = [.. Enumerable.Range(0, count).Select(i => (double)i)];
        double[] ratios = [.. days.Select(d => 1 - (byDay * d) + Normal.Sample(random, 0, 0.002))];

        var projection = LifeProjection.Project(days, ratios, new double[count]);

        Assert.Equal((reason, (LifeProjection.Span?)null), (projection.Refusal, projection.Crossing));
    }

    [Fact]
    public void One_wild_day_in_ten_hardly_moves_the_projection()
    {
        var random = new Random(4);
        double[] days = [.. Enumerable.Range(0, 100).Select(i => (double)i)];
        double[] ratios = [.. days.Select(d => 1 - (0.001 * d) + Normal.Sample(random, 0, 0.002))];
        var calm = LifeProjection.Project(days, ratios, [.. days.Select(_ => 0.002)]).Crossing!.Value;
        for (var i = 5; i < 100; i += 10)
            ratios[i] += 0.3;
        var wild = LifeProjection.Project(days, ratios, [.. days.Select(_ => 0.002)]).Crossing!.Value;

        Assert.InRange(wild.Median!.Value, calm.Median!.Value - 6, calm.Median.Value + 6);
    }

    [Fact]
    public void The_same_series_in_hours_crosses_at_the_same_moment()
    {
        var random = new Random(9);
        double[] days = [.. Enumerable.Range(0, 70).Select(i => (double)i)];
        double[] ratios = [.. days.Select(d => 1 - (0.0015 * d) + Normal.Sample(random, 0, 0.004))];

        var byDay = LifeProjection.Project(days, ratios, new double[70]).Crossing!.Value;
        var byHour = LifeProjection.Project([.. days.Select(d => 1000 + (24 * d))], ratios, new double[70]).Crossing!.Value;

        Assert.Equal(byDay.Low, (byHour.Low - 1000) / 24, 1e-3);
        Assert.Equal(byDay.High!.Value, (byHour.High!.Value - 1000) / 24, 1e-3);
    }

    [Fact]
    public void Times_that_do_not_rise_are_refused() =>
        Assert.Throws<ArgumentException>(() => LifeProjection.Project([1, 1], [1, 1], [0, 0]));
}
