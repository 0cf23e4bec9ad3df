using CsCheck;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Integration;

namespace LaserWatch.Trends;

public class ChangeModelTests
{
    private const double Wander = 0.008;
    private const double Memory = 0.25;

    /// <summary>Against numerical integration of the likelihood over the fall (MathNet.Numerics), with white noise and a known level weight.</summary>
    [Fact]
    public void The_weight_of_a_step_is_its_integrated_likelihood()
    {
        // Daily points far apart against the memory: the noise is white, with the variance of wander and error together.
        double[] values = [1.002, 0.997, 1.004, 0.955, 0.949, 0.957, 0.951];
        var days = Enumerable.Range(0, values.Length).Select(i => 40.0 * i).ToArray();
        var variances = Enumerable.Repeat(1e-5, values.Length).ToArray();
        var sigma = Math.Sqrt((Wander * Wander) + 1e-5);

        var found = Fit(days, values, variances);

        // Marginal likelihood over level (flat) and fall (half-normal, 0.1), averaged over places; relative to no change.
        var places = Enumerable.Range(1, values.Length - 1).Select(k => Integrated(i => i >= k ? 1 : 0)).Average();
        var ramps = Enumerable.Range(0, values.Length - 2).Select(k => Integrated(i => i <= k ? 0 : (double)(i - k) / (values.Length - 1 - k))).Average();
        var none = Marginal(i => 0, 0);
        var total = none + places + ramps;
        Assert.Equal(ChangeKind.Step, found.Kind);
        Assert.Equal(none / total, found.None, 4);
        Assert.Equal(places / total, found.Step, 4);
        Assert.Equal(ramps / total, found.Ramp, 4);

        double Integrated(Func<int, double> shape) => GaussLegendreRule.Integrate(
            fall => 2 * Normal.PDF(0, 0.1, fall) * Marginal(shape, fall), 0, 0.2, 256);

        // ∫ over the level of the product of normal densities: exp(−RSS/2σ²), all else common.
        double Marginal(Func<int, double> shape, double fall)
        {
            var moved = values.Select((v, i) => v + (fall * shape(i))).ToArray();
            var mean = moved.Average();
            return Math.Exp(-moved.Sum(m => (m - mean) * (m - mean)) / (2 * sigma * sigma));
        }
    }

    [Fact]
    public void After_more_rises_than_are_cut_off_the_rest_is_still_one_series_of_its_own()
    {
        // A saw of seven teeth: each falls by 6 % and is mended.
        var (days, values, variances) = Course(7 * 60, seed: 5, day => 0.06 * (day % 60) / 60);
        var model = new ChangeModel();

        var found = model.Fit(days, values, variances, Enumerable.Repeat(1.0, days.Length).ToArray(), Wander, Memory);

        var left = model.CutOff;
        Assert.InRange(left, 4 * 55, days.Length - 3);
        Assert.Equal(new ChangeModel().Fit(days.AsSpan(left), values.AsSpan(left), variances.AsSpan(left), Enumerable.Repeat(1.0, days.Length - left).ToArray(), Wander, Memory).Now, found.Now, 3);
    }

    [Fact]
    public void A_step_is_placed_sized_and_named()
    {
        var (days, values, variances) = Course(40, seed: 3, day => day < 25 ? 0 : 0.06);

        var found = Fit(days, values, variances);

        Assert.Equal(ChangeKind.Step, found.Kind);
        Assert.True(found.Step > 0.95);
        Assert.InRange(25.3, found.BeganFromDays, found.BeganToDays);
        Assert.InRange(found.Fall, 0.06 - (2.5 * found.FallError), 0.06 + (2.5 * found.FallError));
        Assert.InRange(found.Now, 0.94 - (2.5 * found.NowError), 0.94 + (2.5 * found.NowError));
    }

    [Fact]
    public void A_slow_fall_is_a_ramp_and_its_present_level_is_right()
    {
        var (days, values, variances) = Course(60, seed: 4, day => 0.0015 * Math.Max(0, day - 15));

        var found = Fit(days, values, variances);

        Assert.Equal(ChangeKind.Ramp, found.Kind);
        Assert.InRange(15, found.BeganFromDays - 3, found.BeganToDays + 3);
        Assert.InRange(found.Now, 1 - (0.0015 * 44.6) - (2.5 * found.NowError), 1 - (0.0015 * 44.6) + (2.5 * found.NowError));
    }

    [Fact]
    public void What_lies_before_a_repair_is_another_story()
    {
        var (days, values, variances) = Course(60, seed: 5, day => day is >= 20 and < 30 ? 0.10 : day < 45 ? 0 : 0.07);

        var found = Fit(days, values, variances);

        Assert.Equal(ChangeKind.Step, found.Kind);
        Assert.InRange(45.3, found.BeganFromDays, found.BeganToDays);
        Assert.InRange(found.Fall, 0.05, 0.09);
    }

    /// <summary>A law: the intervals cover what they say. 95 % of 400 places and sizes, within three standard errors of a proportion.</summary>
    [Fact]
    public void Intervals_of_size_and_place_cover_what_they_promise()
    {
        var (sizes, places, levels) = (0, 0, 0);
        const int Runs = 400;
        for (var seed = 0; seed < Runs; seed++)
        {
            var at = 12 + (seed % 20);
            var (days, values, variances) = Course(40, 1000 + seed, day => day < at ? 0 : 0.05);
            var found = Fit(days, values, variances);
            sizes += Math.Abs(found.Fall - 0.05) <= 1.96 * found.FallError ? 1 : 0;
            levels += Math.Abs(found.Now - 0.95) <= 1.96 * found.NowError ? 1 : 0;
            // The first stint after the step is in the morning of its day.
            places += found.BeganFromDays <= at + 0.3 && found.BeganToDays >= at + 0.2 ? 1 : 0;
        }

        Assert.InRange(sizes, 0.90 * Runs, 0.99 * Runs);
        Assert.InRange(levels, 0.90 * Runs, 0.99 * Runs);
        Assert.True(places >= 0.93 * Runs, $"{places} of {Runs}");
    }

    /// <summary>The evidence threshold of a change holds back chance: none of 300 healthy half years reaches it.</summary>
    [Fact]
    public void Healthy_courses_stay_below_the_evidence_of_a_change_of_consequence()
    {
        for (var seed = 0; seed < 300; seed++)
        {
            var (days, values, variances) = Course(60, 5000 + seed, _ => 0);
            var found = Fit(days, values, variances);
            Assert.InRange(found.Now, 0.97, 1.03);
            Assert.True(found.Evidence < 12, $"{found.Evidence} at seed {seed}");
        }
    }

    [Fact]
    public void Fewer_than_three_points_say_nothing() =>
        Assert.Equal(default, new ChangeModel().Fit([1, 2], [1, 0.9], [1e-6, 1e-6], [0, 0], Wander, Memory));

    [Fact]
    public void Weights_sum_to_one_and_moving_the_series_in_time_changes_nothing_else() =>
        Gen.Select(Gen.Double[0.9, 1.05].Array[3, 20], Gen.Double[-1000, 1000]).Sample((values, shift) =>
        {
            var days = Enumerable.Range(0, values.Length).Select(i => (double)i).ToArray();
            var variances = Enumerable.Repeat(1e-5, values.Length).ToArray();
            var here = Fit(days, values, variances);
            var there = Fit([.. days.Select(d => d + shift)], values, variances);
            Assert.Equal(1, here.None + here.Step + here.Ramp, 9);
            Assert.Equal(here.Kind, there.Kind);
            Assert.Equal(here.Now, there.Now, 6);
            Assert.Equal(here.BeganDays + shift, there.BeganDays, 6);
        });

    private static ChangeFinding Fit(double[] days, double[] values, double[] variances) =>
        new ChangeModel().Fit(days, values, variances, new double[days.Length], Wander, Memory);

    /// <summary>Four stints a day, with wander of 0.8 % that remembers a quarter of a day, and errors of 0.15 %.</summary>
    private static (double[] Days, double[] Values, double[] Variances) Course(int days, int seed, Func<double, double> fall)
    {
        var random = new Random(seed);
        var normal = new Normal(0, 1, random);
        List<double> times = [], values = [];
        double wander = Wander * normal.Sample(), before = 0;
        for (var day = 0; day < days; day++)
        {
            for (var stint = 0; stint < 4; stint++)
            {
                var at = day + 0.3 + (0.1 * stint);
                var keep = times.Count == 0 ? 1 : Math.Exp(-(at - before) / Memory);
                wander = (keep * wander) + (Wander * Math.Sqrt(1 - (keep * keep)) * normal.Sample());
                before = at;
                times.Add(at);
                values.Add(1 - fall(at) + wander + (0.0015 * normal.Sample()));
            }
        }

        return ([.. times], [.. values], [.. Enumerable.Repeat(0.0015 * 0.0015, times.Count)]);
    }
}
