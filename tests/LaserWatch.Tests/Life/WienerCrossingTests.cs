using CsCheck;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Integration;

namespace LaserWatch.Life;

public class WienerCrossingTests
{
    [Theory]
    [InlineData(50)]
    [InlineData(100)]
    [InlineData(180)]
    public void A_known_level_and_drift_give_the_inverse_Gaussian(double ahead)
    {
        var crossing = new WienerCrossing();
        crossing.Add(new WienerDegradation(0.95, 1e-18, 0.001, 0, 0, 0), 0.003, 0.85, 1);

        Assert.Equal(InverseGaussian.FirstPassage(0.1, 0.001, 0.003).Cumulative(ahead), crossing.Probability(ahead), 1e-7);
    }

    [Theory]
    [InlineData(0.003, 60)]
    [InlineData(0.003, 120)]
    [InlineData(0.0003, 100)]
    [InlineData(0.00003, 110)]
    public void What_is_not_known_of_level_and_drift_is_mixed_in_as_direct_integration_does(double diffusion, double ahead)
    {
        var (levelError, driftError, correlation) = (0.006, 0.0001, -0.7);
        var crossing = new WienerCrossing();
        crossing.Add(
            new WienerDegradation(0.95, levelError * levelError, 0.001, driftError * driftError, correlation * levelError * driftError, 0), diffusion, 0.85, 1);

        var direct = GaussLegendreRule.Integrate(
            (u, v) =>
            {
                var level = 0.95 + (levelError * u);
                var drift = 0.001 + (driftError * ((correlation * u) + (Math.Sqrt(1 - (correlation * correlation)) * v)));
                return Normal.PDF(0, 1, u) * Normal.PDF(0, 1, v) * InverseGaussian.FirstPassage(level - 0.85, drift, diffusion).Cumulative(ahead);
            },
            -7, 7, -7, 7, 256);

        Assert.Equal(direct, crossing.Probability(ahead), 0.003);
    }

    [Fact]
    public void A_quantile_beyond_what_may_be_looked_at_is_none()
    {
        var crossing = new WienerCrossing();
        crossing.Add(new WienerDegradation(0.95, 1e-6, 0.0005, 4e-6, 0, 0), 0.001, 0.85, 1);

        Assert.NotNull(crossing.Quantile(0.05, 2000));
        Assert.Null(crossing.Quantile(0.95, 2000));
    }

    [Fact]
    public void Whether_a_probability_is_reached_is_told_without_summing_all_of_it()
    {
        var part = Gen.Select(Gen.Double[0.8, 1], Gen.Double[1e-8, 1e-3], Gen.Double[-0.0005, 0.003], Gen.Double[0, 1e-6], Gen.Double[0, 0.01], Gen.Double[0.01, 1]);
        Gen.Select(part.Array[1, 12], Gen.Double[0, 400], Gen.Double[-1e-9, 1e-9]).Sample((parts, ahead, off) =>
        {
            var crossing = new WienerCrossing();
            var total = parts.Sum(p => p.Item6);
            foreach (var (level, variance, drift, driftVariance, diffusion, weight) in parts)
                crossing.Add(new WienerDegradation(level, variance, drift, driftVariance, 0, 0), diffusion, 0.85, weight / total);
            var whole = crossing.Probability(ahead);

            foreach (var wanted in (double[])[0.05, 0.5, 0.95, whole, whole + off, Math.BitIncrement(whole), Math.BitDecrement(whole)])
                Assert.Equal(whole >= wanted, crossing.IsReached(ahead, wanted));
        }, iter: 300);
    }
}
