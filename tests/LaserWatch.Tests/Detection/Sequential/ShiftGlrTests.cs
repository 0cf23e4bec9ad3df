using CsCheck;
using LaserWatch.Benchmarks;
using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

public class ShiftGlrTests
{
    private static readonly Gen<double[]> Samples = Gen.Double[-3, 3].Array[1, 60];

    /// <summary>Own simulation with 200 000 runs: window 200, b 4.982, one-sided: run length 369.7 ± 1.1 in control, and delays by shift.</summary>
    [Fact]
    public void Run_lengths_are_those_of_the_published_simulation()
    {
        var chart = Chart.Of(new ShiftGlr(new ShiftGlrDesign(200, 4.982, TwoSided: false)));

        Assert.All(PublishedTable.Read("UnknownShiftDelays.csv").Rows.Where(row => row.Text("parameters").Contains("M=200", StringComparison.Ordinal)), row =>
        {
            var delay = RunLengths.Measure(chart, row.Number("shift_sigma"), runs: 2000, seed: 7);
            Assert.InRange(delay.Mean, row.Number("zero_state_delay") - 4 * delay.Error, row.Number("zero_state_delay") + 4 * delay.Error);
        });
    }

    /// <summary>Own simulation with 200 000 runs: one-sided, 369.7 ± 1.1 and 9940 ± 111.</summary>
    [Theory]
    [InlineData(200, 4.982, 369.7)]
    [InlineData(400, 8.634, 9940)]
    public void The_approximation_of_the_run_length_holds_within_three_per_cent(int window, double threshold, double simulated)
    {
        Assert.InRange(new ShiftGlrDesign(window, threshold, TwoSided: false).RunLength() / simulated, 0.97, 1.03);
        Assert.Equal(new ShiftGlrDesign(window, threshold, TwoSided: false).RunLength() / 2, new ShiftGlrDesign(window, threshold, TwoSided: true).RunLength(), 1e-9);
    }

    [Fact]
    public void The_statistic_is_the_greatest_over_all_stretches_that_end_now()
    {
        Gen.Select(Gen.Int[1, 30], Samples, Gen.Bool).Sample((window, samples, twoSided) =>
        {
            var glr = new ShiftGlr(new ShiftGlrDesign(window, 5, twoSided));
            for (var n = 1; n <= samples.Length; n++)
            {
                glr.Update(samples[n - 1]);
                var greatest = Enumerable.Range(1, Math.Min(n, window))
                    .Select(m => (Sum: samples[(n - m)..n].Sum(), Length: m))
                    .Where(stretch => twoSided || stretch.Sum > 0)
                    .Select(stretch => stretch.Sum * stretch.Sum / (2 * stretch.Length))
                    .DefaultIfEmpty(0).Max();
                Assert.Equal(greatest, glr.Statistic, 1e-9);
            }
        }, iter: 200);
    }

    [Fact]
    public void The_alarm_says_when_the_mean_changed_and_how_far()
    {
        var glr = new ShiftGlr(ShiftGlrDesign.For(0.5, 1000));
        for (var n = 0; n < 50; n++)
            Assert.Equal(CusumSide.None, glr.Update(n % 2 == 0 ? 0.5 : -0.5));

        var sides = Enumerable.Range(0, 4).Select(_ => glr.Update(-2.5)).ToArray();

        Assert.Equal([CusumSide.None, CusumSide.None, CusumSide.Lower, CusumSide.Lower], sides);
        Assert.Equal((4, -2.5), (glr.ChangeAgo, glr.EstimatedMean));
    }

    [Fact]
    public void A_chart_taken_up_from_its_saved_state_goes_on_as_if_never_stopped()
    {
        Gen.Select(Gen.Int[1, 30], Samples, Samples).Sample((window, before, after) =>
        {
            var design = new ShiftGlrDesign(window, 2, TwoSided: true);
            var (first, second) = (new ShiftGlr(design), new ShiftGlr(design));
            foreach (var sample in before)
                first.Update(sample);
            Assert.True(StateVisitor.TryLoad(StateVisitor.Save(first.Visit), second.Visit));

            foreach (var sample in after)
                Assert.Equal(
                    (first.Update(sample), first.Statistic, first.ChangeAgo, first.EstimatedMean),
                    (second.Update(sample), second.Statistic, second.ChangeAgo, second.EstimatedMean));
        }, iter: 100);
    }

    [Fact]
    public void A_state_of_another_window_is_refused()
    {
        var state = StateVisitor.Save(new ShiftGlr(new ShiftGlrDesign(10, 5, TwoSided: true)).Visit);

        Assert.False(StateVisitor.TryLoad(state, new ShiftGlr(new ShiftGlrDesign(11, 5, TwoSided: true)).Visit));
    }
}
