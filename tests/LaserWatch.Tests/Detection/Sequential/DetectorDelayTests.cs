using LaserWatch.Benchmarks;

namespace LaserWatch.Statistics;

/// <summary>The benchmark's bounds, with a tenth of its runs or fewer; the margins are the bounds and what so few runs leave open.</summary>
public class DetectorDelayTests
{
    private static readonly Effort Few = new(Runs: 0.1);
    private static readonly Effort Fewest = new(Runs: 0.05);

    [Fact]
    public void A_known_shift_is_found_within_three_per_cent_of_the_optimum() =>
        Assert.All(DetectorTable.KnownShift(Few), row =>
        {
            Assert.InRange(row.Ratio, 0.97 - 3 * row.Delay.Error / row.Yardstick, 1.03);
            Assert.InRange(row.InControl.Mean, row.Wanted - 4 * row.InControl.Error, row.Wanted + 4 * row.InControl.Error);
        });

    [Fact]
    public void A_shift_of_unknown_size_is_found_within_fifteen_per_cent_on_average_and_twenty_at_worst() =>
        Assert.All(DetectorTable.UnknownShift(Fewest).GroupBy(row => row.Detector), rows =>
        {
            Assert.InRange(rows.Average(row => row.Ratio), 1, 1.15);
            Assert.All(rows, row => Assert.InRange(row.Ratio, 1, 1.2 + 2 * row.Delay.Error / row.Yardstick));
            Assert.All(rows, row => Assert.InRange(row.InControl.Mean / row.Wanted, 0.94 - 4 * row.InControl.Error / row.Wanted, 1.06 + 4 * row.InControl.Error / row.Wanted));
        });

    [Fact]
    public void A_ramp_is_found_within_fifteen_per_cent_of_its_own_test() =>
        Assert.All(DetectorTable.Ramps(Few), row => Assert.InRange(row.Ratio, 0.9, 1.15));

    [Fact]
    public void The_run_length_in_control_holds_within_a_factor_of_two_on_coloured_noise() =>
        Assert.All(ColouredTable.Rows(Fewest), row =>
        {
            if (row is { Detector: "no correction", Phi: > 0 })
            {
                Assert.InRange(row.Ratio, 0, 0.4); // or the noise is not coloured
                return;
            }

            Assert.InRange(row.Ratio, 0.5, 2);
            // Fifty machines leave the mean time to the first alarm open by some fifteen per cent.
            Assert.InRange(row.First / row.Wanted, 0.5 / 1.3, 2 * 1.3);
        });
}
