using LaserWatch.Benchmarks;
using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

public class Ar1CusumTests
{
    /// <summary>Own simulation with 200 000 runs of a two-sided CUSUM, k 0.5 and h 5, of AR(1) noise as it is and of its errors with φ known.</summary>
    [Fact]
    public void Run_lengths_are_those_of_the_published_simulation()
    {
        var rows = PublishedTable.Read("Ar1EffectOnCusum.csv").Rows.ToList();

        Assert.Equal(35, rows.Count);
        Assert.All(rows, row =>
        {
            var (phi, shift) = (row.Number("phi"), row.Number("shift_in_marginal_sigma"));
            var raw = row.Text("charted") == "raw";
            var lengths = Enumerable.Range(0, 1500).Select(run => (double)RunLength(phi, shift, raw, run)).ToList();
            var measured = Estimate.Of(lengths);

            Assert.InRange(measured.Mean, row.Number("arl") - 4 * measured.Error, row.Number("arl") + 4 * measured.Error);
        });
    }

    [Fact]
    public void The_more_is_left_to_learn_the_higher_the_threshold()
    {
        double[] thresholds = [.. new[] { 500, 1000, 2000, 100_000, int.MaxValue }.Select(learned =>
            Ar1CusumDesign.For(new Ar1Noise(0, 1, 0.75, 0, learned), 2, 1000).DecisionInterval)];

        Assert.Equal(thresholds.OrderDescending(), thresholds);
        Assert.True(thresholds[0] > thresholds[4]);
    }

    [Fact]
    public void Known_noise_gets_the_plain_design_for_what_is_left_of_the_shift()
    {
        var noise = new Ar1Noise(0, 1, 0.75);

        Assert.Equal(CusumDesign.For(Math.Sqrt(0.25 / 1.75), 1000), Ar1CusumDesign.For(noise, 1, 1000));
    }

    [Fact]
    public void A_chart_taken_up_from_its_saved_state_goes_on_as_if_never_stopped()
    {
        var noise = new Ar1Noise(10, 2, 0.6, 0.1);
        var design = Ar1CusumDesign.For(noise, 1, 100);
        var (first, second, source) = (new Ar1Cusum(noise, design), new Ar1Cusum(noise, design), new Gaussian(1));
        for (var n = 0; n < 50; n++)
            first.Update(10 + 2 * source.Next());
        Assert.True(StateVisitor.TryLoad(StateVisitor.Save(first.Visit), second.Visit));

        for (var n = 0; n < 50; n++)
        {
            var sample = 10 + 2 * source.Next();
            Assert.Equal((first.Update(sample), first.Chart.Upper), (second.Update(sample), second.Chart.Upper));
        }
    }

    private static int RunLength(double phi, double shift, bool raw, int run)
    {
        var noise = new Noise(new Gaussian(1000 + run), phi);
        var whitener = raw ? null : new Ar1Whitener(phi);
        whitener?.Update(noise.Next()); // the shift comes after a sample in control
        var chart = new Cusum(new CusumDesign(0.5, 5, 0, TwoSided: true));
        for (var n = 1; ; n++)
        {
            var x = noise.Next() + shift;
            var charted = whitener is null ? x : whitener.Update(x) * whitener.Gain;
            if (chart.Update(charted) != CusumSide.None)
                return n;
        }
    }
}
