using LaserWatch.History;

namespace LaserWatch.Plots;

/// <summary>What a picture of trends shows: the stretch of time and the range of values, in the units of its axes.</summary>
/// <param name="From">Left edge, days since 1970.</param>
/// <param name="Last">The last day with an estimate.</param>
/// <param name="To">Right edge; with a projection, beyond its interval, unless that is too far.</param>
/// <param name="Low">Lower edge, in the trend's own unit.</param>
internal readonly record struct PlotScale(double From, double Last, double To, double Low, double High)
{
    // What is projected farther than this times the time seen would press the estimates into a corner.
    private const double FarthestAhead = 3;
    private const double Room = 0.06;
    private const double RoomForMarks = 0.10;

    public static PlotScale Of(IReadOnlyList<ChannelTrend> trends)
    {
        var first = ChannelTrend.ToDays(trends[0].Days[0].At);
        var last = ChannelTrend.ToDays(trends[^1].Days[^1].At);
        var span = Math.Max(last - first, 2);
        var projection = trends[^1].Projection;
        var to = last;
        if (projection.Earliest is not null)
            to = Math.Min(ChannelTrend.ToDays(projection.Latest ?? projection.Median ?? projection.Earliest.Value), last + (FarthestAhead * span));

        var (low, high) = Values(trends, to > last);
        var height = Math.Max(high - low, 1e-6);
        return new(first - (0.03 * span), last, to + (0.04 * (to - first + 1)), low - (Room * height), high + ((trends.Any(t => t.Services.Count > 0) ? RoomForMarks : Room) * height));
    }

    public double Clamp(double day) => Math.Clamp(day, From, To);

    // Estimates with their errors, the baseline, and the thresholds that are near; the one that is projected always.
    private static (double Low, double High) Values(IReadOnlyList<ChannelTrend> trends, bool projects)
    {
        var (low, high) = (trends.Min(t => t.Days.Min(day => day.Value - day.Error)), trends.Max(t => t.Days.Max(day => day.Value + day.Error)));
        if (trends[0].IsHealthRatio)
            (low, high) = (Math.Min(low, 1), Math.Max(high, 1));
        var near = Math.Max(high - low, Math.Abs(high) * 0.01);
        foreach (var threshold in trends[^1].Thresholds)
        {
            if ((projects && threshold.Value == trends[^1].Projection.Threshold?.Value) || (threshold.Value > low - near && threshold.Value < high + near))
                (low, high) = (Math.Min(low, threshold.Value), Math.Max(high, threshold.Value));
        }

        return high > low ? (low, high) : (low - Math.Max(Math.Abs(low) * 0.01, 0.5), high + Math.Max(Math.Abs(high) * 0.01, 0.5));
    }
}
