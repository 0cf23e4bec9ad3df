using CsCheck;

namespace LaserWatch.Statistics;

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

    /// <summary>Gan 1992 and Zou, Liu and Wang 2009 as quoted with R's spc 0.6.7, whose xDcusum.arl computed the rest.</summary>
    [Fact]
    public void Ramp_delays_are_those_of_the_published_tables()
    {
        var rows = PublishedTable.Read("RampDelays.csv").Rows.Where(row => row.Has("k")).ToList();

        Assert.True(rows.Count > 70);
        Assert.All(rows, row =>
        {
            var design = new CusumDesign(row.Number("k"), row.Number("h"), 0, TwoSided: false);
            var fromZero = row.Text("scheme").Contains("with0", StringComparison.Ordinal);
            var delay = design.RampRunLength(row.Number("slope_sigma_per_sample"), fromZero);

            // The table's digits; its own quadrature keeps three where one sample outruns h.
            Assert.InRange(delay / row.Number("delay_samples"), 1 - 1e-3, 1 + 1e-3);
        });
    }

    [Fact]
    public void A_design_for_a_ramp_is_as_quick_as_the_ramp_s_own_test()
    {
        var ratios = PublishedTable.Read("RampDelays.csv").Rows.Where(row => !row.Has("k")).Select(row =>
        {
            var arl0 = row.Text("arl0").StartsWith("370", StringComparison.Ordinal) ? 370 : 10_000;
            var slope = row.Number("slope_sigma_per_sample");
            return CusumDesign.ForRamp(slope, arl0, twoSided: false).RampRunLength(slope) / row.Number("delay_samples");
        }).ToList();

        Assert.Equal(14, ratios.Count);
        Assert.All(ratios, ratio => Assert.InRange(ratio, 0.95, 1.06));
    }

    [Theory]
    [InlineData(0.01)]
    [InlineData(0.1)]
    public void No_other_k_finds_a_ramp_much_sooner(double slope)
    {
        var delay = CusumDesign.ForRamp(slope, 1e4).RampRunLength(slope);

        Assert.All([0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.4], k => Assert.True(CusumDesign.WithReference(k, 1e4).RampRunLength(slope) > 0.98 * delay));
    }

    /// <summary>R 4.2.2 with spc 0.6.7 (xcusum.q, xcusum.sf).</summary>
    [Theory]
    [InlineData(4, new[] { 0.01, 0.05, 0.1, 0.5, 0.9 }, new[] { 8L, 22, 40, 234, 766 })]
    [InlineData(5, new[] { 0.01, 0.05, 0.1, 0.5, 0.9 }, new[] { 16L, 54, 104, 647, 2135 })]
    public void Quantiles_of_the_run_length_are_the_published_ones(double h, double[] probabilities, long[] quantiles)
    {
        var design = new CusumDesign(0.5, h, 0, TwoSided: false);

        Assert.Equal(quantiles, probabilities.Select(probability => design.RunLengthQuantile(probability)));
    }

    /// <summary>Waldmann 1986, Table 2, as quoted with R's spc 0.6.7: 345, 82, 9; printed from an approximation, so the largest may be off by one.</summary>
    [Fact]
    public void Quantiles_of_the_run_length_are_those_of_Waldmann()
    {
        var design = new CusumDesign(0.5, 3, 0, TwoSided: false);

        Assert.InRange(design.RunLengthQuantile(0.95), 345, 346);
        Assert.Equal([82, 9], new[] { 0.5, 0.05 }.Select(probability => design.RunLengthQuantile(probability)));
    }

    [Theory]
    [InlineData(100, 0.9032977)]
    [InlineData(500, 0.5860135)]
    [InlineData(930, 0.3680358)]
    public void The_run_length_s_survival_is_the_published_one(long samples, double survival) =>
        Assert.Equal(survival, new CusumDesign(0.5, 5, 0, TwoSided: false).Survival(samples), 1e-6);

    /// <summary>Own simulation with 40 000 runs of both charts: k 0.25, h 6, standard error below 0.0025.</summary>
    [Theory]
    [InlineData(0, new[] { 0.9791, 0.7050, 0.4550, 0.1894 })]
    [InlineData(3, new[] { 0.8231, 0.5586, 0.3595, 0.1520 })]
    public void The_two_sided_survival_is_that_of_simulation(double headStart, double[] simulated)
    {
        var design = new CusumDesign(0.25, 6, headStart, TwoSided: true);

        Assert.All(new[] { 10, 50, 100, 200 }.Zip(simulated), pair => Assert.Equal(pair.Second, design.Survival(pair.First), 0.01));
    }

    [Fact]
    public void The_median_of_a_very_long_run_length_is_that_of_its_geometric_tail()
    {
        var design = CusumDesign.For(1, 1e7);

        Assert.InRange(design.RunLengthQuantile(0.5) / 1e7, 0.99 * Math.Log(2), 1.01 * Math.Log(2));
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
