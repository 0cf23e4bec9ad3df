using CsCheck;

namespace LaserWatch.Detection.Sequential;

public class CusumDesignTests
{
    /// <summary>R 4.2.2 with spc 0.6.7 (xcusum.arl, xcusum.ad), and beside them the papers' own printed values.</summary>
    [Fact]
    public void Run_lengths_are_those_of_the_published_tables()
    {
        var rows = PublishedTable.Read("CusumRunLengths.csv").Rows.ToList();

        Assert.True(rows.Count > 150);
        Assert.All(rows, row =>
        {
            var twoSided = row.Text("scheme") == "two-sided";
            var (k, h, shift) = (row.Number("k"), row.Number("h"), row.Number("shift_sigma"));
            var design = new CusumDesign(k, h, row.Number("headstart"), twoSided);
            var steady = row.Text("mode").StartsWith("steady", StringComparison.Ordinal);
            var computed = steady ? design.SteadyStateRunLength(shift) : design.RunLength(shift);

            // The two-sided steady state stands in the table by a coarse Markov chain; and a shift far beyond h leaves the tables' own quadrature few digits.
            var tolerance = steady && twoSided ? 0.01 : 2e-5;
            Assert.InRange(computed / row.Number("arl_computed"), 1 - tolerance, 1 + tolerance);
            if (row.Has("arl_published"))
                Assert.InRange(computed / row.Number("arl_published"), 1 - 0.01, 1 + 0.01);
        });
    }

    [Fact]
    public void Designs_for_a_known_shift_are_the_published_optimum()
    {
        Assert.All(PublishedTable.Read("KnownShiftOptimum.csv").Rows, row =>
        {
            var (arl0, shift) = (row.Number("arl0"), row.Number("shift_sigma"));
            var oneSided = CusumDesign.For(shift, arl0, twoSided: false);
            var twoSided = CusumDesign.For(shift, arl0);

            Assert.Equal(row.Number("k"), oneSided.ReferenceValue);
            Assert.Equal(row.Number("h_one_sided"), oneSided.DecisionInterval, 1e-6);
            Assert.Equal(row.Number("h_two_sided"), twoSided.DecisionInterval, 1e-6);
            Assert.Equal(row.Number("cusum_zero_state_delay_WORST_CASE_OPTIMUM"), oneSided.RunLength(shift), 2e-5 * oneSided.RunLength(shift));
            Assert.Equal(row.Number("cusum_two_sided_zero_state_delay"), twoSided.RunLength(shift), 2e-5 * twoSided.RunLength(shift));
            Assert.Equal(row.Number("cusum_steady_state_delay"), oneSided.SteadyStateRunLength(shift), 2e-5 * oneSided.RunLength(shift));
        });
    }

    [Fact]
    public void A_design_has_the_run_length_it_was_made_for()
    {
        var arguments = Gen.Select(Gen.Double[Math.Log(0.1), Math.Log(8)], Gen.Double[Math.Log(20), Math.Log(1e8)], Gen.Bool, Gen.Double[0, 0.5]);

        arguments.Sample((logShift, logRunLength, twoSided, headStart) =>
        {
            var wanted = Math.Exp(logRunLength);
            var design = CusumDesign.For(Math.Exp(logShift), wanted, twoSided, headStart);
            return Math.Abs(design.RunLength(0) / wanted - 1) < 1e-6;
        }, iter: 60);
    }

    [Fact]
    public void Run_lengths_rise_with_h_and_with_k()
    {
        var arguments = Gen.Select(Gen.Double[0.05, 1.5], Gen.Double[0.5, 8], Gen.Double[0.01, 0.5], Gen.Double[0, 1.5], Gen.Bool);

        arguments.Sample((k, h, more, shift, twoSided) =>
        {
            var here = new CusumDesign(k, h, 0, twoSided).RunLength(shift);
            return here < new CusumDesign(k, h + more, 0, twoSided).RunLength(shift)
                && here < new CusumDesign(k + more, h, 0, twoSided).RunLength(shift);
        }, iter: 100);
    }

    [Fact]
    public void A_two_sided_chart_finds_a_fall_as_soon_as_a_rise_of_its_size()
    {
        var arguments = Gen.Select(Gen.Double[0.05, 1.5], Gen.Double[0.5, 8], Gen.Double[0, 0.5], Gen.Double[0, 3]);

        arguments.Sample((k, h, headStart, shift) =>
        {
            var design = new CusumDesign(k, h, headStart * h, TwoSided: true);
            return Math.Abs(design.RunLength(shift) / design.RunLength(-shift) - 1) < 1e-9;
        }, iter: 50);
    }

    [Theory]
    [InlineData(0, 1000, 0)]
    [InlineData(double.NaN, 1000, 0)]
    [InlineData(1, 5, 0)]
    [InlineData(1, double.PositiveInfinity, 0)]
    [InlineData(1, 1000, 0.6)]
    [InlineData(1, 1000, -0.1)]
    public void A_design_out_of_range_is_refused(double shift, double runLength, double headStart) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => CusumDesign.For(shift, runLength, headStartFraction: headStart));
}
