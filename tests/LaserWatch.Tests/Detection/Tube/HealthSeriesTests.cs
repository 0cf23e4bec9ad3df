using CsCheck;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

public class HealthSeriesTests
{
    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    [Fact]
    public void Years_of_stints_become_a_few_hundred_points_in_order_of_time()
    {
        var series = new HealthSeries();

        Fill(series, days: 5 * 365);

        Assert.InRange(series.Count, 200, 300);
        for (var i = 1; i < series.Count; i++)
            Assert.True(series.Days[i] > series.Days[i - 1]);
        Assert.Equal(24, series.DaysWithin.ToArray().Count(d => d == 0));
    }

    [Fact]
    public void Thinning_keeps_the_mean_weighted_by_certainty()
    {
        Gen.Select(Gen.Double[0.8, 1.1], Gen.Double[1e-6, 1e-4]).Array[1, 120].Sample(stints =>
        {
            var series = new HealthSeries();
            for (var i = 0; i < stints.Length; i++)
                series.Add(Start + TimeSpan.FromHours(5 * i), stints[i].Item1, stints[i].Item2, 66);

            var expected = stints.Sum(s => s.Item1 / s.Item2) / stints.Sum(s => 1 / s.Item2);
            double weights = 0, sum = 0;
            for (var i = 0; i < series.Count; i++)
            {
                weights += 1 / series.Variances[i];
                sum += series.Ratios[i] / series.Variances[i];
            }

            Assert.Equal(expected, sum / weights, 9);
        });
    }

    [Fact]
    public void The_wander_of_days_is_found_through_ageing_and_a_step()
    {
        var series = new HealthSeries();
        var random = new Random(3);

        for (var day = 0; day < 60; day++)
        {
            var wander = 0.012 * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
            series.Add(Start + TimeSpan.FromDays(day), 1 - (0.001 * day) - (day > 30 ? 0.08 : 0) + wander, 1e-6, 66);
        }

        Assert.InRange(series.WanderOfDays(0.006, 0.003), 0.009, 0.016);
    }

    [Fact]
    public void Saved_and_restored_it_is_the_same()
    {
        var series = new HealthSeries();
        Fill(series, days: 200);
        var restored = new HealthSeries();

        Assert.True(StateVisitor.TryLoad(StateVisitor.Save(series.Visit), restored.Visit));

        Assert.Equal(series.Ratios.ToArray(), restored.Ratios.ToArray());
        Assert.Equal(series.Days.ToArray(), restored.Days.ToArray());
        Assert.Equal(series.Variances.ToArray(), restored.Variances.ToArray());
        Assert.Equal(series.DaysWithin.ToArray(), restored.DaysWithin.ToArray());
    }

    private static void Fill(HealthSeries series, int days)
    {
        for (var day = 0; day < days; day++)
        {
            for (var stint = 0; stint < 4; stint++)
                series.Add(Start + TimeSpan.FromDays(day) + TimeSpan.FromHours(2 * stint), 1 - (0.0001 * day), 1e-6, 66);
        }
    }
}
