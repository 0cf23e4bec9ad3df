using CsCheck;
using MathNet.Numerics.LinearAlgebra;

namespace LaserWatch.Trends;

public class WanderingNoiseTests
{
    private static readonly Gen<(double Gap, double Variance, double Data)[]> Series =
        Gen.Select(Gen.Double[0.02, 2], Gen.Double[1e-6, 1e-4], Gen.Double[-0.1, 0.1]).Array[3, 30];

    /// <summary>Against generalised least squares with the whole covariance matrix (MathNet.Numerics, dense Cholesky).</summary>
    [Fact]
    public void The_level_by_the_filter_is_the_level_by_the_covariance_matrix()
    {
        Gen.Select(Series, Gen.Double[0.002, 0.02]).Sample((series, wander) =>
        {
            const double Memory = 0.25;
            var days = Times(series);
            var covariance = Matrix<double>.Build.Dense(
                series.Length, series.Length,
                (i, j) => (wander * wander * Math.Exp(-Math.Abs(days[i] - days[j]) / Memory)) + (i == j ? series[i].Variance : 0));
            var ones = Vector<double>.Build.Dense(series.Length, 1);
            var data = Vector<double>.Build.DenseOfEnumerable(series.Select(s => s.Data));
            var inverse = covariance.Cholesky();
            var expected = ones.DotProduct(inverse.Solve(data)) / ones.DotProduct(inverse.Solve(ones));
            var variance = 1 / ones.DotProduct(inverse.Solve(ones));

            var noise = new WanderingNoise();
            noise.Prepare(days, [.. series.Select(s => s.Variance)], new double[series.Length], wander, Memory);
            var (one, white) = (new double[series.Length], new double[series.Length]);
            noise.Whiten([.. Enumerable.Repeat(1.0, series.Length)], one);
            noise.Whiten([.. series.Select(s => s.Data)], white);
            var information = one.Sum(x => x * x);

            Assert.Equal(expected, one.Zip(white, (a, b) => a * b).Sum() / information, 10);
            Assert.Equal(variance, 1 / information, 12);
        });
    }

    [Fact]
    public void A_mean_of_five_days_carries_a_fifth_of_the_wander()
    {
        var noise = new WanderingNoise();
        noise.Prepare([0, 7], [1e-6, 1e-6], [5, 5], 0.01, 0.25);
        var white = new double[2];

        noise.Whiten([0.01, 0.02], white);

        Assert.Equal([0.01 / Math.Sqrt(2.1e-5), 0.02 / Math.Sqrt(2.1e-5)], white.Select(w => Math.Round(w, 12)), (a, b) => Math.Abs(a - b) < 1e-9);
    }

    private static double[] Times((double Gap, double, double)[] series)
    {
        var at = 0.0;
        return [.. series.Select(s => at += s.Gap)];
    }
}
