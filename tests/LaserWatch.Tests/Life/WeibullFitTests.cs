namespace LaserWatch.Life;

public class WeibullFitTests
{
    // NIST/SEMATECH e-Handbook 8.4.1.3 (read): 606.5280, 1.7208, -75.135; more digits and the quantiles computed with R package survival 3.5-3.
    [Fact]
    public void Ten_failures_and_ten_still_running_give_the_handbooks_figures()
    {
        var fit = WeibullFit.Of([54, 187, 216, 240, 244, 335, 361, 373, 375, 386], [.. Enumerable.Repeat(500.0, 10)]);

        Assert.Equal(606.527558, fit.Scale, 1e-5);
        Assert.Equal(1.72079726, fit.Shape, 1e-7);
        Assert.Equal(-75.13461816, fit.LogLikelihood, 1e-7);
        Assert.Equal((41.8664, 164.0224, 490.1738), (Math.Round(fit.Quantile(0.01), 4), Math.Round(fit.Quantile(0.10), 4), Math.Round(fit.Quantile(0.50), 4)));
        Assert.Equal(0.488102299, fit.Survival(500), 1e-8);
    }

    [Theory]
    [InlineData(new double[] { 3 })]
    [InlineData(new double[] { 3, 3 })]
    [InlineData(new double[] { 3, 0 })]
    public void Lives_that_tell_no_shape_are_refused(double[] lives) => Assert.Throws<ArgumentException>(() => WeibullFit.Of(lives, []));
}
