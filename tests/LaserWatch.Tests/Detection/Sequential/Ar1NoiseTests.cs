using LaserWatch.Benchmarks;
using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

public class Ar1NoiseTests
{
    [Theory]
    [InlineData(0)]
    [InlineData(0.5)]
    [InlineData(0.9)]
    public void The_correlation_of_neighbours_is_found_without_bias(double phi)
    {
        var found = Enumerable.Range(0, 300).Select(seed => Autocorrelation.LagOne(Stretch(seed, phi, 100))).ToList();

        // 300 stretches of 100: standard error of the mean below 0.006; the bias of the plain estimate is up to −0.037.
        Assert.Equal(phi, found.Average(), 0.015);
    }

    [Fact]
    public void Wild_values_do_not_upset_the_correlation()
    {
        var samples = Stretch(1, 0.7, 2000);
        for (var n = 50; n < samples.Length; n += 100)
            samples[n] = 1000;

        Assert.InRange(Autocorrelation.LagOne(samples), 0.6, 0.75);
        Assert.InRange(Ar1Noise.Fit(samples)!.Sigma, 0.9, 1.3);
    }

    [Fact]
    public void Equal_samples_teach_nothing() => Assert.Null(Ar1Noise.Fit(new double[100]));

    [Fact]
    public void A_short_stretch_teaches_nothing() => Assert.Null(Ar1Noise.Fit(Stretch(1, 0, 49)));

    [Theory]
    [InlineData(0.9, 0)]
    [InlineData(0.9, 0.5)]
    [InlineData(0, 0)]
    public void A_long_stretch_teaches_its_noise(double phi, double white)
    {
        var noise = Ar1Noise.Fit(Stretch(3, phi, 20_000, white))!;

        Assert.Equal(0, noise.Mean, 0.1);
        Assert.Equal(1, noise.Sigma, 0.05);
        Assert.Equal(phi, noise.Phi, 0.03);
        Assert.Equal(white > 0, noise.Theta > 0);
        Assert.InRange(noise.LongRun / ((1 - white) * (1 + phi) / (1 - phi) + white), 0.8, 1.25);
    }

    [Theory]
    [InlineData(0.9, 0)]
    [InlineData(0.6, 0.5)]
    public void The_errors_of_known_noise_are_white_and_of_its_error_variance(double phi, double white)
    {
        var theta = Theta(phi, white);
        var whitener = new Ar1Whitener(phi, theta);
        var errors = Array.ConvertAll(Stretch(4, phi, 50_000, white), whitener.Update);

        Assert.All([1, 2, 5, 10], lag => Assert.InRange(Autocorrelation.Rank(errors, lag), -0.02, 0.02));
        Assert.Equal(1 / whitener.Gain, Math.Sqrt(errors.Sum(error => error * error) / errors.Length), 0.02);
    }

    [Fact]
    public void The_first_error_has_the_variance_of_the_others()
    {
        var first = Enumerable.Range(0, 4000).Select(seed => new Ar1Whitener(0.9).Update(Stretch(seed, 0.9, 1)[0])).ToList();

        Assert.Equal(1 - 0.81, first.Average(error => error * error), 0.02);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0.5)]
    [InlineData(0.9)]
    public void The_long_run_variance_is_found(double phi)
    {
        var found = Enumerable.Range(0, 50).Select(seed => LongRunVariance.Estimate(Stretch(seed, phi, 2000))).ToList();

        Assert.InRange(found.Average() / ((1 + phi) / (1 - phi)), 0.85, 1.2);
    }

    [Theory]
    [InlineData(0.5)]
    [InlineData(0.9)]
    public void Batch_means_have_the_variance_and_correlation_they_are_said_to(double phi)
    {
        var size = BatchMeans.SizeFor(phi);
        var batches = new BatchMeans(size);
        var means = Stretch(5, phi, 3000 * size).Select(batches.Add).OfType<double>().ToArray();

        Assert.Equal(3000, means.Length);
        Assert.InRange(BatchMeans.Correlation(phi, size), 0.03, 0.05);
        Assert.InRange(Autocorrelation.Rank(means, 1), -0.02, 0.12);
        Assert.InRange(means.Average(mean => mean * mean) / BatchMeans.Variance(phi, size), 0.9, 1.1);
    }

    [Fact]
    public void Whitener_and_batches_taken_up_from_their_saved_state_go_on_as_if_never_stopped()
    {
        var samples = Stretch(6, 0.5, 100);
        var (firstErrors, secondErrors) = (new Ar1Whitener(0.5, 0.2), new Ar1Whitener(0.5, 0.2));
        var (firstMeans, secondMeans) = (new BatchMeans(7), new BatchMeans(7));
        foreach (var sample in samples.Take(50))
        {
            firstErrors.Update(sample);
            firstMeans.Add(sample);
        }

        Assert.True(StateVisitor.TryLoad(StateVisitor.Save(firstErrors.Visit), secondErrors.Visit));
        Assert.True(StateVisitor.TryLoad(StateVisitor.Save(firstMeans.Visit), secondMeans.Visit));
        Assert.All(samples.Skip(50), sample =>
            Assert.Equal((firstErrors.Update(sample), firstMeans.Add(sample)), (secondErrors.Update(sample), secondMeans.Add(sample))));
    }

    private static double[] Stretch(int seed, double phi, int length, double white = 0)
    {
        var noise = new Noise(new Gaussian(seed), phi, white);
        return [.. Enumerable.Range(0, length).Select(_ => noise.Next())];
    }

    /// <summary>θ/(1 + θ²) = φ·w/(σ² + (1 + φ²)·w) for white variance w and driving variance σ².</summary>
    private static double Theta(double phi, double white)
    {
        if (white == 0)
            return 0;
        var ratio = phi * white / ((1 - white) * (1 - phi * phi) + (1 + phi * phi) * white);
        return (1 - Math.Sqrt(1 - 4 * ratio * ratio)) / (2 * ratio);
    }
}
