using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>The trend of any channel as it is measured, out of its days.</summary>
public static class MeasuredTrend
{
    /// <param name="days">Of <see cref="ChannelHistory.Days"/>.</param>
    /// <param name="withBeam">Only samples with the beam on were taken.</param>
    public static ChannelTrend Of(Channel channel, IReadOnlyList<DailyEstimate> days, bool withBeam, TrendFrame frame)
    {
        var taken = frame.Within(days);
        return Trend.Of(new TrendInput(frame.Machine, channel, withBeam ? $"{channel.Name} with the beam on, median of the day" : $"{channel.Name}, median of the day", channel.Unit, taken)
        {
            Confidence = frame.Confidence,
            Thresholds = TrendThresholds.Of(channel, frame.Options),
            Services = frame.Marks(taken),
            KnownGaps = frame.GapsWithin(taken),
            Cautions = [.. Cautions(channel, withBeam), .. frame.Cautions],
            Method = TrendWords.OfChannel(withBeam),
        });
    }

    private static IEnumerable<string> Cautions(Channel channel, bool withBeam)
    {
        if (channel == Channel.AirPressure || channel == Channel.AirFlow || channel == Channel.TubeCurrent || channel == Channel.Power)
            yield return "All jobs of a day are taken together: another mix of jobs moves this trend too.";
        if (!withBeam && ChannelHistory.NeedsBeam(channel))
            yield return "Neither lasing nor tube_current is stored, so the minutes without beam are in it.";
    }
}
