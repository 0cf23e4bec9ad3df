using CsCheck;

namespace LaserWatch.Models;

public class CurrentPowerCurveTests
{
    /// <summary>Against the min–max formula of isotonic regression (Barlow et al. 1972, theorem 1.2, from memory), by brute force.</summary>
    [Fact]
    public void The_curve_is_the_isotonic_regression_of_its_nodes()
    {
        Gen.Select(Gen.Double[5, 25], Gen.Double[0.002, 0.02]).Array[1, 8].Sample(nodes =>
        {
            var curve = new CurrentPowerCurve();
            var weights = nodes.Select(n => 1 / (n.Item1 * n.Item2 * n.Item1 * n.Item2)).ToArray();

            curve.Set([.. nodes.Select((n, i) => (30.0 + (5 * i), n.Item1, n.Item2))]);

            for (var i = 0; i < nodes.Length; i++)
            {
                var expected = Enumerable.Range(0, i + 1).Max(from => Enumerable.Range(i, nodes.Length - i).Min(to => Mean(from, to)));
                Assert.Equal(expected, curve.At(30 + (5 * i))!.Value.Milliamps, 9);
            }

            double Mean(int from, int to)
            {
                double sum = 0, weight = 0;
                for (var j = from; j <= to; j++)
                    (sum, weight) = (sum + (weights[j] * nodes[j].Item1), weight + weights[j]);
                return sum / weight;
            }
        });
    }

    [Fact]
    public void Between_two_powers_the_chord_answers_less_surely_than_either()
    {
        var curve = new CurrentPowerCurve();
        curve.Set([(40, 12, 0.005), (60, 18, 0.005)]);

        var (current, error) = curve.At(50)!.Value;

        Assert.Equal(15, current, 12);
        Assert.InRange(error, 0.0105, 0.0107);
    }

    [Fact]
    public void Outside_the_learned_powers_and_in_wide_gaps_nothing_is_said()
    {
        var curve = new CurrentPowerCurve();
        curve.Set([(30, 9, 0.005), (80, 22, 0.005)]);

        Assert.Null(curve.At(29));
        Assert.Null(curve.At(81));
        Assert.Null(curve.At(55));
    }
}
