using System.Globalization;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>The trend of a tube's health, out of what was seen of it.</summary>
public static class TubeTrend
{
    private const int LastDays = 10;
    private const double LeastApart = 0.03;

    /// <param name="history">After its walk.</param>
    /// <param name="tube">One of <see cref="TubeHistory.Tubes"/>; its serial and date of installation may have been filled in.</param>
    /// <param name="power">%; null: pooled over powers.</param>
    public static ChannelTrend Of(TubeHistory history, TubePeriod tube, double? power, TrendFrame frame)
    {
        var blocks = history.BlocksOf(tube.Number);
        var (all, wander) = DailyHealth.Ratios(blocks.Blocks, power);
        var days = frame.Within(all);
        var baseline = power is { } one ? BaselineAt(blocks, one) : null;
        var trend = Trend.Of(new TrendInput(frame.Machine, Channel.TubeCurrent, What(power), "", days)
        {
            Confidence = frame.Confidence,
            Wander = wander,
            IsHealthRatio = true,
            Thresholds = TrendThresholds.OfHealth(frame.Options),
            Services = frame.Marks(days, tube.Installed, tube.Removed),
            KnownGaps = frame.GapsWithin(days),
            Cautions = [.. Cautions(history, tube, power, blocks), .. frame.Cautions],
            Method = TrendWords.OfHealth(frame.Options.TubeCurrent, power, wander),
        });
        return trend with
        {
            Tube = tube,
            Projection = tube.Removed is null ? trend.Projection : new TrendProjection(trend.Projection.Threshold, null, null, null, "the tube is out"),
            Power = power,
            Apart = power is null ? PowersApartOf(blocks.Blocks) : null,
            BaselineMilliamps = baseline,
            Milliamps = power is { } given && baseline is { } scale ? frame.Within(DailyHealth.Milliamps(blocks.Blocks, given, scale).Days) : null,
        };
    }

    private static string What(double? power) => power is { } one
        ? string.Create(CultureInfo.InvariantCulture, $"tube current at {one:0.#} % power against its baseline")
        : "tube current against its baseline, all powers pooled";

    private static double? BaselineAt(TubeHistory.TubeBlocks blocks, double power)
    {
        var near = blocks.Blocks.Where(block => Math.Abs(block.Power - power) <= DailyHealth.SamePower).ToList();
        if (near.Count == 0)
            return null;
        var commonest = near.GroupBy(block => block.Power).MaxBy(group => group.Count())!.Key;
        return blocks.Baselines.TryGetValue(commonest, out var learned) ? learned : near[^1].Expected;
    }

    private static IEnumerable<string> Cautions(TubeHistory history, TubePeriod tube, double? power, TubeHistory.TubeBlocks blocks)
    {
        yield return TrendWords.TubeIsNotLight;
        if (history.First is { } first && !(tube.Installed >= first - TimeSpan.FromDays(1)))
        {
            yield return $"The stored samples begin on {first.ToString()[..10]}, "
                + (tube.Installed is { } installed ? $"after the tube was put in ({installed.ToString()[..10]})" : "and nobody logged when the tube was put in")
                + ": the baseline is of then, not of the new tube, and what it had lost before is not seen.";
        }

        if (power is null && PowersApartOf(blocks.Blocks) is { } apart)
            yield return $"{apart.Words} Look at one power too: --power {apart.LowestAt.ToString("0", CultureInfo.InvariantCulture)}.";
    }

    // A supply that gives way does so at the top: pooled, its fall looks smaller than it is there.
    private static PowersApart? PowersApartOf(List<TubeBlock> blocks)
    {
        if (blocks.Count == 0)
            return null;
        var from = blocks[^1].Day - LastDays;
        var powers = blocks.Where(block => block.Day > from).GroupBy(block => block.Power)
            .Where(group => group.Count() >= LastDays)
            .Select(group => (Power: group.Key, Ratio: Statistics.RobustLocation.Median(group.Select(block => block.Ratio).ToArray())))
            .OrderBy(p => p.Ratio).ToList();
        return powers.Count < 2 || powers[^1].Ratio - powers[0].Ratio < LeastApart ? null
            : new(powers[0].Power, powers[0].Ratio, powers[^1].Power, powers[^1].Ratio);
    }
}
