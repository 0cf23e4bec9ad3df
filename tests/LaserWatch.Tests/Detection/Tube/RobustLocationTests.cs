using CsCheck;
using LaserWatch.Monitoring;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>Medians found by counting, against those of a sorted list.</summary>
public class RobustLocationTests
{
    private static readonly Instant Morning = Instant.From(new DateTimeOffset(2026, 3, 2, 8, 0, 0, TimeSpan.Zero));

    /// <summary>Fine and coarse values, so that there are twins, zeros of both signs among them.</summary>
    private static readonly Gen<double[]> Values = Gen.Select(Gen.Double[-3, 3].Array[1, 80], Gen.Int[0, 4])
        .Select((values, digits) => values.Select(value => Math.Round(value, digits)).ToArray());

    [Fact]
    public void The_median_is_to_the_bit_that_of_the_sorted_values() => Values.Sample(
        values =>
        {
            var (sorted, middle) = (values.ToArray(), values.Length / 2);
            sorted.AsSpan().Sort();
            var plain = values.Length % 2 == 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;

            Assert.Equal(BitConverter.DoubleToInt64Bits(plain), BitConverter.DoubleToInt64Bits(RobustLocation.Median(values)));
        },
        iter: 20_000);

    [Fact]
    public void A_window_of_ratios_that_was_asked_before_says_what_one_says_that_was_not() =>
        Gen.Select(Gen.Double[0.8, 1.1], Gen.Int[0, 18].Array[0, 4]).Array[1, 60].Sample(
            blocks =>
            {
                var window = new RatioWindow();
                var at = Morning;
                foreach (var (ratio, questions) in blocks)
                {
                    window.Add(Math.Round(ratio, 2), 0.003, at += TimeSpan.FromMinutes(1));
                    foreach (var most in questions)
                    {
                        var fresh = new RatioWindow();
                        Assert.True(StateVisitor.TryLoad(StateVisitor.Save(window.Visit), fresh.Visit));

                        Assert.Equal(fresh.Recent(most, 1), window.Recent(most, 1));
                    }
                }
            },
            iter: 300);
}
