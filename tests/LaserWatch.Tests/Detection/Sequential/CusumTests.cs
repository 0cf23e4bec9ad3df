using CsCheck;
using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

public class CusumTests
{
    private static readonly Gen<double[]> Samples = Gen.Double[-3, 3].Array[1, 60];

    private static readonly Gen<CusumDesign> Designs =
        Gen.Select(Gen.Double[0, 1.5], Gen.Double[0.5, 8], Gen.Double[0, 0.9]).Select((k, h, start) => new CusumDesign(k, h, start * h, TwoSided: true));

    /// <summary>NIST/SEMATECH e-Handbook 6.3.2.3: target 325, k 0.3175, h 4.1959, in the units of the data.</summary>
    [Fact]
    public void The_handbook_s_example_comes_out_as_printed()
    {
        var cusum = new Cusum(new CusumDesign(0.3175, 4.1959, 0, TwoSided: true));
        var rows = PublishedTable.Read("HandbookCusum.csv").Rows.ToList();

        Assert.Equal(20, rows.Count);
        Assert.All(rows, row =>
        {
            var side = cusum.Update(row.Number("x") - 325);

            Assert.Equal(row.Number("S_hi"), cusum.Upper, 1e-9);
            Assert.Equal(row.Number("S_lo"), cusum.Lower, 1e-9);
            Assert.Equal(row.Number("S_hi_printed"), cusum.Upper, 0.0051);
            Assert.Equal(row.Number("S_lo_printed"), cusum.Lower, 0.0051);
            Assert.Equal(row.Text("signal") == "yes" ? CusumSide.Upper : CusumSide.None, side);
        });
    }

    [Fact]
    public void Each_sum_is_the_greatest_of_the_partial_sums_that_end_now()
    {
        Gen.Select(Designs, Samples).Sample((design, samples) =>
        {
            var cusum = new Cusum(design);
            for (var n = 0; n < samples.Length; n++)
            {
                cusum.Update(samples[n]);
                Assert.Equal(GreatestSum(samples.AsSpan(0, n + 1), design), cusum.Upper, 1e-9);
                Assert.Equal(GreatestSum([.. samples.Take(n + 1).Select(x => -x)], design), cusum.Lower, 1e-9);
            }
        }, iter: 200);
    }

    [Fact]
    public void Samples_turned_upside_down_turn_the_verdicts()
    {
        Gen.Select(Designs, Samples).Sample((design, samples) =>
        {
            var (straight, turned) = (new Cusum(design), new Cusum(design));
            foreach (var sample in samples)
            {
                var expected = straight.Update(sample) switch { CusumSide.Upper => CusumSide.Lower, CusumSide.Lower => CusumSide.Upper, _ => CusumSide.None };
                var actual = turned.Update(-sample);
                if (straight.Upper != straight.Lower)
                    Assert.Equal(expected, actual);
                Assert.Equal((straight.Lower, straight.LowerRun), (turned.Upper, turned.UpperRun));
            }
        }, iter: 200);
    }

    [Fact]
    public void A_chart_taken_up_from_its_saved_state_goes_on_as_if_never_stopped()
    {
        Gen.Select(Designs, Samples, Samples).Sample((design, before, after) =>
        {
            var first = new Cusum(design);
            foreach (var sample in before)
                first.Update(sample);
            var second = new Cusum(design);
            Assert.True(StateVisitor.TryLoad(StateVisitor.Save(first.Visit), second.Visit));

            foreach (var sample in after)
                Assert.Equal(
                    (first.Update(sample), first.Upper, first.Lower, first.UpperRun, first.LowerRun),
                    (second.Update(sample), second.Upper, second.Lower, second.UpperRun, second.LowerRun));
        }, iter: 200);
    }

    [Fact]
    public void The_run_says_when_the_mean_changed_and_the_sum_how_far()
    {
        var cusum = new Cusum(new CusumDesign(0.5, 4, 0, TwoSided: true));
        for (var n = 0; n < 5; n++)
            cusum.Update(0);

        var sides = Enumerable.Range(0, 3).Select(_ => cusum.Update(-2)).ToArray();

        Assert.Equal([CusumSide.None, CusumSide.None, CusumSide.Lower], sides);
        Assert.Equal((3, 0, -2.0), (cusum.LowerRun, cusum.UpperRun, cusum.EstimatedMean));
    }

    [Fact]
    public void A_one_sided_chart_is_blind_to_a_fall()
    {
        var cusum = new Cusum(new CusumDesign(0.5, 4, 0, TwoSided: false));

        Assert.All(Enumerable.Repeat(-3.0, 20), sample => Assert.Equal(CusumSide.None, cusum.Update(sample)));
    }

    [Fact]
    public void A_reset_gives_the_head_start_again()
    {
        var cusum = new Cusum(new CusumDesign(0.5, 4, 2, TwoSided: true));
        cusum.Update(9);

        cusum.Reset();

        Assert.Equal((2, 2, 0, 0), (cusum.Upper, cusum.Lower, cusum.UpperRun, cusum.LowerRun));
    }

    [Fact]
    public void A_sample_that_is_not_a_number_is_refused() =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new Cusum(new CusumDesign(0.5, 4, 0, TwoSided: true)).Update(double.NaN));

    [Theory]
    [InlineData(-0.1, 4, 0)]
    [InlineData(0.5, 0, 0)]
    [InlineData(0.5, 4, 4)]
    [InlineData(0.5, 4, -1)]
    public void A_design_that_cannot_be_is_refused(double k, double h, double headStart) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new Cusum(new CusumDesign(k, h, headStart, TwoSided: true)));

    private static double GreatestSum(ReadOnlySpan<double> samples, CusumDesign design)
    {
        var (greatest, sum) = (0.0, 0.0);
        for (var n = samples.Length - 1; n >= 0; n--)
        {
            sum += samples[n] - design.ReferenceValue;
            greatest = Math.Max(greatest, n == 0 ? sum + design.HeadStart : sum);
        }

        return greatest;
    }
}
