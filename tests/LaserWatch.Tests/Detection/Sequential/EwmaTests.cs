using CsCheck;
using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

public class EwmaTests
{
    private static readonly Gen<double[]> Samples = Gen.Double[-3, 3].Array[1, 60];

    private static readonly Gen<EwmaDesign> Designs = Gen.Select(Gen.Double[0.01, 1], Gen.Double[0.5, 4]).Select((weight, width) => new EwmaDesign(weight, width));

    /// <summary>NIST/SEMATECH e-Handbook 6.3.2.4: EWMA0 50, s 2.0539, λ 0.3, three-sigma limits 52.5884 and 47.4115.</summary>
    [Fact]
    public void The_handbook_s_example_comes_out_as_printed()
    {
        var ewma = new Ewma(new EwmaDesign(0.3, 3));
        var rows = PublishedTable.Read("HandbookEwma.csv").Rows.ToList();

        Assert.Equal(20, rows.Count);
        Assert.Equal(52.5884, 50 + 2.0539 * ewma.Design.Limit, 1e-4);
        Assert.Equal(47.4115, 50 - 2.0539 * ewma.Design.Limit, 1e-4);
        Assert.All(rows, row =>
        {
            Assert.Equal(CusumSide.None, ewma.Update((row.Number("y") - 50) / 2.0539));
            Assert.Equal(row.Number("ewma_computed"), 50 + 2.0539 * ewma.Average, 1e-6);
            Assert.Equal(row.Number("ewma_printed"), 50 + 2.0539 * ewma.Average, 0.0051);
        });
    }

    [Fact]
    public void The_average_is_the_weighted_sum_of_all_samples()
    {
        Gen.Select(Designs, Samples).Sample((design, samples) =>
        {
            var ewma = new Ewma(design);
            foreach (var sample in samples)
                ewma.Update(sample);

            var sum = samples.Select((x, n) => design.Smoothing * Math.Pow(1 - design.Smoothing, samples.Length - 1 - n) * x).Sum();
            Assert.Equal(sum, ewma.Average, 1e-12);
        }, iter: 200);
    }

    [Fact]
    public void A_chart_taken_up_from_its_saved_state_goes_on_as_if_never_stopped()
    {
        Gen.Select(Designs, Samples, Samples).Sample((design, before, after) =>
        {
            var first = new Ewma(design);
            foreach (var sample in before)
                first.Update(sample);
            var second = new Ewma(design);
            Assert.True(StateVisitor.TryLoad(StateVisitor.Save(first.Visit), second.Visit));

            foreach (var sample in after)
                Assert.Equal((first.Update(sample), first.Average), (second.Update(sample), second.Average));
        }, iter: 200);
    }

    [Fact]
    public void The_side_is_that_of_the_limit_passed()
    {
        var ewma = new Ewma(new EwmaDesign(1, 3));

        Assert.Equal([CusumSide.Upper, CusumSide.Lower, CusumSide.None], new[] { 3.1, -3.1, 2.9 }.Select(ewma.Update));
        ewma.Reset();
        Assert.Equal(0, ewma.Average);
    }

    [Fact]
    public void A_sample_that_is_not_a_number_is_refused() =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new Ewma(new EwmaDesign(0.2, 3)).Update(double.PositiveInfinity));
}
