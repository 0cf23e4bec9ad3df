using CsCheck;
using LaserWatch.Monitoring;
using LaserWatch.Statistics;

namespace LaserWatch.Rules;

public class RecursiveFitTests
{
    [Fact]
    public void A_law_is_found_as_closely_as_the_fit_says()
    {
        Gen.Int[1, 1000].Sample(seed =>
        {
            var random = new Random(seed);
            var fit = new RecursiveFit([0, 0], [1e4, 1e4], 0.01);
            for (var i = 0; i < 400; i++)
                Teach(fit, random, slope: 3, level: -1, noise: 0.5);

            Span<double> slope = [1, 0];
            Assert.InRange(fit[0] - 3, -5 * Math.Sqrt(fit.Spread(slope)), 5 * Math.Sqrt(fit.Spread(slope)));
            Assert.InRange(Math.Sqrt(fit.Noise), 0.4, 0.6);
            Assert.Equal(400, fit.Learned);
        });
    }

    [Fact]
    public void How_new_the_ground_is_does_not_depend_on_how_noisy_it_was()
    {
        var (quiet, loud) = (new RecursiveFit([0, 0], [1e4, 1e4], 0.01), new RecursiveFit([0, 0], [1e4, 1e4], 0.01));
        var (one, other) = (new Random(3), new Random(3));
        for (var i = 0; i < 100; i++)
        {
            Teach(quiet, one, 3, -1, 0.01);
            Teach(loud, other, 3, -1, 1);
        }

        Span<double> far = [10, 1];
        Assert.Equal(quiet.Leverage(far), loud.Leverage(far), 1e-9);
        Assert.True(quiet.Leverage(far) > 20 * quiet.Leverage([0.5, 1]));
    }

    [Fact]
    public void A_slow_drift_that_is_only_listened_to_neither_moves_the_law_nor_passes_for_noise()
    {
        var random = new Random(4);
        var fit = new RecursiveFit([0, 0], [1e4, 1e4], 0.01);
        for (var i = 0; i < 300; i++)
            Teach(fit, random, 3, -1, 0.1);
        var (slope, noise) = (fit[0], fit.LongRunVariance);

        for (var i = 0; i < 2000; i++)
            fit.Listen((i * 0.0005) + (0.1 * Gauss(random)));

        Assert.Equal(slope, fit[0]);
        Assert.InRange(fit.LongRunVariance / noise, 0.6, 1.5);
    }

    // The long-run variance of a first-order autoregression is (1 + phi)/(1 - phi) times that of one value.
    [Theory]
    [InlineData(0.0)]
    [InlineData(0.5)]
    [InlineData(0.8)]
    public void Coloured_errors_are_known_as_such(double phi)
    {
        var random = new Random(5);
        var fit = new RecursiveFit([0, 0], [1e-9, 1e-9], 0.01);
        var error = 0.0;
        for (var i = 0; i < 900; i++)
        {
            error = (phi * error) + (Math.Sqrt(1 - (phi * phi)) * Gauss(random));
            fit.Learn([0, 0], error);
        }

        Assert.Equal(phi, fit.Autocorrelation, 0.12);
    }

    [Fact]
    public void A_law_put_on_a_bound_lies_on_it()
    {
        var random = new Random(6);
        var fit = new RecursiveFit([0, 0], [1e4, 1e4], 0.01);
        for (var i = 0; i < 50; i++)
            Teach(fit, random, 3, -1, 0.5);

        fit.Project([1, 1], 2.5);

        Assert.Equal(2.5, fit[0] + fit[1], 1e-9);
    }

    [Fact]
    public void A_saved_fit_goes_on_as_if_it_had_never_stopped()
    {
        var random = new Random(7);
        var fit = new RecursiveFit([0, 0], [1e4, 1e4], 0.01);
        for (var i = 0; i < 50; i++)
            Teach(fit, random, 3, -1, 0.5);
        var restored = new RecursiveFit([0, 0], [1e4, 1e4], 0.01);
        Assert.True(StateVisitor.TryLoad(StateVisitor.Save(fit.Visit), restored.Visit));

        fit.Learn([0.3, 1], 0.4);
        restored.Learn([0.3, 1], 0.4);

        Assert.Equal(StateVisitor.Save(fit.Visit), StateVisitor.Save(restored.Visit));
    }

    private static void Teach(RecursiveFit fit, Random random, double slope, double level, double noise)
    {
        Span<double> row = [random.NextDouble(), 1];
        fit.Learn(row, (slope * row[0]) + level + (noise * Gauss(random)) - fit.Predict(row));
    }

    private static double Gauss(Random random) => Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
}
