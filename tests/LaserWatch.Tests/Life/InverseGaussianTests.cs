using CsCheck;
using MathNet.Numerics.Integration;

namespace LaserWatch.Life;

public class InverseGaussianTests
{
    // Computed with R package statmod 1.5.0 (pinvgauss, dinvgauss); equal to the closed form of Chhikara and Folks 1989 to 12 digits.
    [Theory]
    [InlineData(10, 0.5, 1, 10, 0.0800667526058715, 0.0361444785336363)]
    [InlineData(10, 0.5, 1, 15, 0.327898415765502, 0.0557564558583041)]
    [InlineData(10, 0.5, 1, 20, 0.585288859162986, 0.0446031029038193)]
    [InlineData(10, 0.5, 1, 30, 0.874524738465941, 0.0160056070201784)]
    [InlineData(10, 0.5, 1, 40, 0.966220454599213, 0.00451805981670453)]
    [InlineData(3, 0.02, 0.1, 75, 0.0581889339278128, 0.00411147546143385)]
    [InlineData(3, 0.02, 0.1, 112.5, 0.300221471390591, 0.0078114007016484)]
    [InlineData(3, 0.02, 0.1, 150, 0.578395484501871, 0.0065147001587056)]
    [InlineData(3, 0.02, 0.1, 225, 0.887998662859671, 0.00215085088461461)]
    [InlineData(3, 0.02, 0.1, 300, 0.974924417264262, 0.000513934432679231)]
    [InlineData(2, 0.01, 0.2, 100, 0.49013833994533, 0.00352065326764299)]
    [InlineData(2, 0.01, 0.2, 150, 0.627133729543941, 0.00212679375071736)]
    [InlineData(2, 0.01, 0.2, 200, 0.713791788077904, 0.00141047395886939)]
    [InlineData(2, 0.01, 0.2, 300, 0.815981028704155, 0.00073643187925732)]
    [InlineData(2, 0.01, 0.2, 400, 0.873063262493356, 0.000440081658455375)]
    [InlineData(5, 0.05, 0.05, 50, 1.02933443061291e-12, 1.56708665310174e-12)]
    [InlineData(5, 0.05, 0.05, 75, 0.00225154958953951, 0.000952265015594281)]
    [InlineData(5, 0.05, 0.05, 100, 0.519897615648326, 0.0398942280401432)]
    [InlineData(5, 0.05, 0.05, 150, 0.999982408065384, 5.21978355392731e-06)]
    [InlineData(5, 0.05, 0.05, 200, 0.999999999999492, 1.95885831637718e-13)]
    public void First_passage_is_the_published_one(double distance, double drift, double diffusion, double t, double cumulative, double density)
    {
        var law = InverseGaussian.FirstPassage(distance, drift, diffusion);

        Assert.Equal(cumulative, law.Cumulative(t), 1e-10 * cumulative);
        Assert.Equal(density, law.Density(t), 1e-10 * density);
        Assert.Equal(1 - cumulative, Math.Exp(law.LogSurvival(t)), 1e-12);
    }

    // Computed with R package statmod 1.5.0 (qinvgauss).
    [Theory]
    [InlineData(10, 0.5, 1, 9.06601787905, 10.5217334323, 18.2042838885, 31.7672175984, 37.0557841059, 8.94427191, 14.8806130178)]
    [InlineData(3, 0.02, 0.1, 72.9215392707, 83.7021435837, 138.585846311, 230.878015634, 265.994914939, 61.2372435696, 117.116460961)]
    [InlineData(2, 0.01, 0.2, 21.4809527589, 28.766587298, 102.845978458, 471.652208375, 710.519209167, 282.842712475, 32.4555320337)]
    [InlineData(5, 0.05, 0.05, 84.4460216426, 87.5571796299, 99.5028952201, 113.081457529, 117.249639857, 10, 98.5112493673)]
    public void Quantiles_are_the_published_ones(
        double distance, double drift, double diffusion, double q05, double q10, double q50, double q90, double q95, double deviation, double mode)
    {
        var law = InverseGaussian.FirstPassage(distance, drift, diffusion);

        Assert.Equal(q05, law.Quantile(0.05), 1e-8 * q05);
        Assert.Equal(q10, law.Quantile(0.10), 1e-8 * q10);
        Assert.Equal(q50, law.Quantile(0.50), 1e-8 * q50);
        Assert.Equal(q90, law.Quantile(0.90), 1e-8 * q90);
        Assert.Equal(q95, law.Quantile(0.95), 1e-8 * q95);
        Assert.Equal(deviation, Math.Sqrt(law.Variance), 1e-6 * deviation);
        Assert.Equal(mode, law.Mode, 1e-6 * mode);
    }

    [Fact]
    public void Shapes_far_above_the_mean_neither_overflow_nor_lose_the_tail()
    {
        var law = new InverseGaussian(1, 1e6);

        Assert.Equal(0.5, law.Cumulative(1), 1e-3);
        Assert.InRange(law.Cumulative(0.99), 1e-25, 1e-22);
        Assert.InRange(law.LogSurvival(1.05), -1300, -1100);
    }

    [Fact]
    public void The_density_is_the_slope_of_the_distribution() =>
        Gen.Select(Gen.Double[0.5, 100], Gen.Double[0.2, 500], Gen.Double[0.3, 3]).Sample((mean, shape, place) =>
        {
            var law = new InverseGaussian(mean, shape);
            var (from, to) = (mean * place, mean * place * 1.2);
            Assert.Equal(law.Cumulative(to) - law.Cumulative(from), GaussLegendreRule.Integrate(law.Density, from, to, 64), 1e-9);
        });
}
