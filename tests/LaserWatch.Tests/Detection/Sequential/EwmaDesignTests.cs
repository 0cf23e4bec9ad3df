using CsCheck;

namespace LaserWatch.Statistics;

public class EwmaDesignTests
{
    /// <summary>R 4.2.2 with spc 0.6.7 (xewma.arl, xewma.ad), and beside them the papers' own printed values.</summary>
    [Fact]
    public void Run_lengths_are_those_of_the_published_tables()
    {
        var rows = PublishedTable.Read("EwmaRunLengths.csv").Rows.Where(row => !row.Text("published_source").Contains("misprint", StringComparison.Ordinal)).ToList();

        Assert.True(rows.Count > 150);
        Assert.All(rows, row =>
        {
            var design = new EwmaDesign(row.Number("lambda"), row.Number("L"));
            var shift = row.Number("shift_sigma");
            var computed = row.Text("mode") == "steady-state" ? design.SteadyStateRunLength(shift) : design.RunLength(shift);

            if (row.Has("arl_computed"))
                Assert.InRange(computed / row.Number("arl_computed"), 1 - 2e-5, 1 + 2e-5);
            if (row.Has("arl_published"))
                Assert.InRange(computed / row.Number("arl_published"), 1 - 0.01, 1 + 0.01);
        });
    }

    [Fact]
    public void Widths_for_a_wanted_run_length_are_the_published_ones() =>
        Assert.All(PublishedTable.Read("EwmaWidths.csv").Rows, row =>
            Assert.Equal(row.Number("L"), EwmaDesign.For(row.Number("lambda"), row.Number("arl0")).Width, 2e-6));

    [Fact]
    public void A_design_has_the_run_length_it_was_made_for()
    {
        Gen.Select(Gen.Double[Math.Log(0.02), 0], Gen.Double[Math.Log(20), Math.Log(1e8)]).Sample((logWeight, logRunLength) =>
        {
            var wanted = Math.Exp(logRunLength);
            return Math.Abs(EwmaDesign.For(Math.Exp(logWeight), wanted).RunLength(0) / wanted - 1) < 1e-6;
        }, iter: 40);
    }

    /// <summary>R 4.2.2 with spc 0.6.7 (xewma.arl.prerun, estimated both): λ 0.1, L 2.814.</summary>
    [Theory]
    [InlineData(25, 474.779, 11.56873)]
    [InlineData(50, 416.823, 10.83067)]
    [InlineData(100, 423.291, 10.56161)]
    [InlineData(200, 443.913, 10.44210)]
    [InlineData(500, 469.376, 10.37434)]
    [InlineData(1000, 482.354, 10.35237)]
    public void Run_lengths_with_a_learned_mean_and_sigma_are_the_published_ones(int learned, double inControl, double atOneSigma)
    {
        var design = new EwmaDesign(0.1, 2.814);

        // At 25 the average rests on rare large σ, which the table's own quadrature of 30 nodes resolves no better.
        var tolerance = learned < 50 ? 0.03 : 0.002;
        Assert.InRange(design.RunLengthLearned(learned) / inControl, 1 - tolerance, 1 + tolerance);
        Assert.InRange(design.RunLengthLearned(learned, 1) / atOneSigma, 0.999, 1.001);
    }

    [Theory]
    [InlineData(0.5)]
    [InlineData(1)]
    [InlineData(2)]
    public void The_weight_for_a_shift_beats_weights_to_either_side(double shift)
    {
        var best = EwmaDesign.ForShift(shift, 500);

        Assert.True(best.RunLength(shift) <= EwmaDesign.For(best.Smoothing * 0.7, 500).RunLength(shift));
        Assert.True(best.RunLength(shift) <= EwmaDesign.For(Math.Min(1, best.Smoothing * 1.4), 500).RunLength(shift));
    }

    [Theory]
    [InlineData(0, 1000)]
    [InlineData(1.1, 1000)]
    [InlineData(0.2, 5)]
    [InlineData(0.2, double.NaN)]
    public void A_design_out_of_range_is_refused(double weight, double runLength) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => EwmaDesign.For(weight, runLength));
}
