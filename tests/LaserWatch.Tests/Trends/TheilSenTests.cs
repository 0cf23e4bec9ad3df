using CsCheck;

namespace LaserWatch.Trends;

public class TheilSenTests
{
    // Sen 1968, J. Am. Stat. Assoc. 63, example of seven points (the interval printed there is wrong by mistakes in its list of slopes, as
    // the tests of R package deming say); Nile, LakeHuron: R package datasets; maxau: R package trend; Norris: NIST StRD; EPA 530/R-09-007 ch. 17
    // and Hollander & Wolfe ch. 9 (data from memory). All computed with SciPy 1.10.1 theilslopes.
    [Theory]
    [InlineData("Sen1968", 0.93, 4, 3.714285714286, 4.375)]
    [InlineData("Sen1968", 0.95, 4, 3.714285714286, 4.375)]
    [InlineData("Sen1968", 0.90, 4, 3.75, 4.181818181818)]
    [InlineData("Sen1968", 0.99, 4, 2.5, 5.0)]
    [InlineData("Nile", 0.95, -2.6, -3.627906976744, -1.428571428571)]
    [InlineData("Nile", 0.90, -2.6, -3.428571428571, -1.659090909091)]
    [InlineData("Nile", 0.99, -2.6, -4.033333333333, -1.04)]
    [InlineData("LakeHuron", 0.95, -0.025125, -0.0349295774648, -0.0165753424658)]
    [InlineData("maxau_s", 0.95, -0.287613882373, -0.419647678219, -0.151902587519)]
    [InlineData("maxau_Q", 0.95, -3.91303240223, -9.89267421084, 2.19057211926)]
    [InlineData("Norris", 0.95, 1.0021968365553604, 1.0011153245594469, 1.0030534351145037)]
    public void Slope_and_interval_are_the_published_ones(string series, double confidence, double slope, double low, double high)
    {
        var (x, y) = TrendSeries.Named(series);

        var line = TheilSen.Fit(x, y, confidence);

        Assert.Equal(slope, line.Slope, 1e-10);
        Assert.Equal(low, line.Low, 1e-10);
        Assert.Equal(high, line.High, 1e-10);
    }

    [Theory]
    [InlineData("Sen1968", 6)]
    [InlineData("Nile", 5890.3)]
    public void The_line_halves_the_points(string series, double intercept)
    {
        var (x, y) = TrendSeries.Named(series);

        Assert.Equal(intercept, TheilSen.Fit(x, y).Intercept, 1e-9);
    }

    [Fact]
    public void Sodium_of_the_EPA_guidance_rises_by_four_thirds_a_year()
    {
        double[] t = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3];
        double[] y = [56, 53, 51, 55, 52, 60, 62, 59, 61, 63];

        var line = TheilSen.Fit(t, y);

        Assert.Equal((1.3333, 0.4545, 2.3333), (Math.Round(line.Slope, 4), Math.Round(line.Low, 4), Math.Round(line.High, 4)));
    }

    [Fact]
    public void Cloud_seeding_of_Hollander_and_Wolfe_falls() =>
        Assert.Equal(-0.05625, TheilSen.Fit([1, 2, 3, 4, 5], [1.26, 1.27, 1.12, 1.16, 1.03]).Slope, 1e-12);

    [Fact]
    public void A_quarter_of_the_points_may_be_anything()
    {
        var random = new Random(5);
        double[] x = [.. Enumerable.Range(0, 80).Select(i => (double)i)];
        double[] y = [.. x.Select(v => 3 - (0.01 * v) + (0.01 * (random.NextDouble() - 0.5)))];
        for (var i = 0; i < 20; i++)
            y[4 * i] = 1000 * random.NextDouble();

        Assert.InRange(TheilSen.Fit(x, y).Slope, -0.0105, -0.0085);
    }

    [Fact]
    public void Autocorrelation_widens_the_interval_and_leaves_the_slope()
    {
        var (x, y) = TrendSeries.Named("Nile");

        var (plain, wide) = (TheilSen.Fit(x, y), TheilSen.Fit(x, y, varianceFactor: 4));

        Assert.Equal(plain.Slope, wide.Slope);
        Assert.InRange((wide.High - wide.Low) / (plain.High - plain.Low), 1.8, 2.3);
    }

    [Fact]
    public void Scaled_and_moved_values_scale_and_move_the_line() =>
        Gen.Select(Gen.Double[-10, 10].Array[3, 25], Gen.Double[0.1, 5], Gen.Double[-50, 50]).Sample((y, scale, move) =>
        {
            double[] x = [.. Enumerable.Range(0, y.Length).Select(i => i + (0.3 * Math.Sin(i)))];
            var line = TheilSen.Fit(x, y);
            var moved = TheilSen.Fit(x, [.. y.Select(v => (scale * v) + move)]);
            Assert.Equal(scale * line.Slope, moved.Slope, 1e-7);
            Assert.Equal((scale * line.Intercept) + move, moved.Intercept, 1e-6);
            Assert.True(line.Low <= line.Slope && line.Slope <= line.High);
        });

    [Fact]
    public void Points_that_make_no_line_are_refused()
    {
        Assert.Throws<ArgumentException>(() => TheilSen.Fit([1, 1], [1, 2]));
        Assert.Throws<ArgumentException>(() => TheilSen.Fit([1, 2], [1]));
        Assert.Throws<ArgumentException>(() => TheilSen.Fit([1, 2], [1, double.NaN]));
        Assert.Throws<ArgumentException>(() => TheilSen.Fit(new double[2001], new double[2001]));
        Assert.Throws<ArgumentOutOfRangeException>(() => TheilSen.Fit([1, 2], [1, 2], confidence: 1));
    }
}
