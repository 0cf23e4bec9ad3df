using MathNet.Numerics.Distributions;

namespace LaserWatch.Trends;

public class MannKendallTests
{
    // Nile, LakeHuron: R package datasets; maxau: the vignette of R package trend; the 353 values: the published test series of a Python trend library (MIT), whose test
    // states the same figures. Computed with the sources of R packages modifiedmk (mkttest, mmkh, mmkh3lag) and trend (mk.test).
    [Theory]
    [InlineData("Nile", -1387, 112728.333333333, -4.12806652284, 3.65826292166e-05)]
    [InlineData("LakeHuron", -1682, 106136.6666667, -5.1598252260, null)]
    [InlineData("maxau_s", -394, 10450, -3.844451666, 0.000120822295)]
    [InlineData("maxau_Q", -144, 10450, -1.398871725807, 0.161851452652)]
    [InlineData("pymannkendall_series_nan_removed", -1959, 4889800.333333, -0.8854562843, 0.3759105874)]
    public void Without_autocorrelation_the_figures_are_the_published_ones(string series, double s, double variance, double z, double? p)
    {
        var test = MannKendall.Test(TrendSeries.Named(series).Y, lags: 0);

        Assert.Equal(s, test.S);
        Assert.Equal(variance, test.Variance, 1e-6 * variance);
        Assert.Equal(z, test.Z, 1e-9);
        if (p is { } published)
            Assert.Equal(published, test.P, 1e-9);
    }

    [Fact]
    public void The_Nile_by_three_lags_is_as_published()
    {
        var test = MannKendall.Test(TrendSeries.Named("Nile").Y, lags: 3);

        Assert.Equal(2.5025778324, test.Factor, 1e-9);
        Assert.Equal(-2.6094734986, test.Z, 1e-9);
        Assert.Equal(0.0090681670, test.P, 1e-9);
        Assert.Equal(-0.280202020202, test.Tau, 1e-9);
    }

    [Theory]
    [InlineData("Nile", 2.1428983271)]
    [InlineData("LakeHuron", 3.2865665584)]
    [InlineData("pymannkendall_series_nan_removed", 0.0526408788)]
    public void By_all_lags_the_factor_of_Hamed_and_Rao_is_the_published_one(string series, double factor)
    {
        var (_, y) = TrendSeries.Named(series);

        Assert.Equal(factor, MannKendall.EffectiveSizeFactor(y, y.Length - 1), 1e-6);
        Assert.Equal(Math.Max(1, factor), MannKendall.Test(y, y.Length - 1).Factor, 1e-6);
    }

    [Fact]
    public void Chance_correlations_never_invent_significance()
    {
        var (_, y) = TrendSeries.Named("pymannkendall_series_nan_removed");

        var test = MannKendall.Test(y);

        Assert.Equal(-0.5190709455, test.Z, 1e-4); // the library's own value by three lags; its slope counts the seven gaps as time
        Assert.True(test.P > 0.05);
    }

    // Sen 1968: 2/7!. Gilbert 1987, ch. 16 (from memory): one-sided 0.167 of four values. Hollander & Wolfe, ch. 9 (data from memory).
    [Theory]
    [InlineData(new double[] { 9, 15, 19, 20, 45, 55, 78 }, 21, 0.000396825397)]
    [InlineData(new double[] { 10, 15, 14, 20 }, 4, 2 * 0.1666666667)]
    [InlineData(new double[] { 1.26, 1.27, 1.12, 1.16, 1.03 }, -6, 2 * 14.0 / 120)]
    public void Few_values_are_tested_exactly(double[] y, double s, double p)
    {
        var test = MannKendall.Test(y);

        Assert.Equal(s, test.S);
        Assert.Equal(p, test.P, 1e-9);
    }

    [Fact]
    public void Equal_values_have_no_trend() => Assert.Equal((0.0, 0.0, 1.0), (MannKendall.Test(new double[30]).S, MannKendall.Test(new double[30]).Z, MannKendall.Test(new double[30]).P));

    [Fact]
    public void On_coloured_noise_without_trend_the_correction_takes_most_of_the_false_trends_away()
    {
        var random = new Random(20260309);
        var (plain, corrected, runs) = (0, 0, 400);
        for (var run = 0; run < runs; run++)
        {
            var y = new double[60];
            var state = 0.0;
            for (var i = 0; i < y.Length; i++)
                y[i] = state = (0.5 * state) + Normal.Sample(random, 0, 1);
            plain += MannKendall.Test(y, 0).P < 0.05 ? 1 : 0;
            corrected += MannKendall.Test(y).P < 0.05 ? 1 : 0;
        }

        Assert.InRange(plain, 0.18 * runs, 0.35 * runs);
        Assert.InRange(corrected, 0.02 * runs, 0.12 * runs);
    }
}
