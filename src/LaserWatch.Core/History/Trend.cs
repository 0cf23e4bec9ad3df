using LaserWatch.Life;
using LaserWatch.Telemetry;
using LaserWatch.Trends;
using MathNet.Numerics.Distributions;

namespace LaserWatch.History;

/// <summary>Makes a trend of daily estimates.</summary>
internal static class Trend
{
    /// <summary>Fewer days than this make no line.</summary>
    public const int LeastDays = LifeProjection.LeastEstimates;

    // How many times the length of the series is looked ahead, as for a tube's life.
    private const double Farthest = 20;

    /// <summary>What falls within three weeks is a fault, not ageing, and is not projected.</summary>
    private const double LeastDaysToProject = 21;

    private const double LongGapDays = 7;

    // Mains and room change over a working day.
    private const double MemoryDays = 0.25;

    public static ChannelTrend Of(TrendInput input)
    {
        var days = input.Days;
        var (change, from, since) = input.IsHealthRatio ? Change(input) : (null, 0, "");
        from = Math.Max(from, days.Count - TheilSen.MostPoints);
        var fitted = days.Skip(from).ToList();
        var refusal = days.Count == 0 ? "there is no estimate"
            : fitted.Count < LeastDays ? $"{fitted.Count} day(s) with an estimate{since} are too few: {LeastDays} are the least"
            : null;
        var trend = new ChannelTrend
        {
            Machine = input.Machine,
            Channel = input.Channel,
            What = input.What,
            Unit = input.Unit,
            IsHealthRatio = input.IsHealthRatio,
            Days = days,
            Confidence = input.Confidence,
            Refusal = refusal,
            LineFrom = from,
            Change = change,
            Thresholds = input.Thresholds,
            Projection = new(null, null, null, null, refusal),
            Services = input.Services,
            Gaps = Gaps(days, input.KnownGaps),
            Cautions = input.Cautions,
            Method = [.. input.Method, .. TrendWords.OfLine(input.IsHealthRatio, input.Confidence)],
        };
        if (refusal is not null)
            return trend with { Projection = trend.Projection with { Threshold = Target(trend, 0) } };
        trend = WithLine(trend, fitted);
        return trend with { Projection = input.IsHealthRatio ? ProjectLife(trend, fitted) : ProjectLine(trend) };
    }

    private static ChannelTrend WithLine(ChannelTrend trend, List<DailyEstimate> days)
    {
        var (times, values) = (days.Select(day => ChannelTrend.ToDays(day.At)).ToArray(), days.Select(day => day.Value).ToArray());
        var test = MannKendall.Test(values);
        var line = TheilSen.Fit(times, values, trend.Confidence, test.Factor);
        var rests = new double[days.Count];
        for (var i = 0; i < rests.Length; i++)
            rests[i] = Math.Abs(values[i] - line.At(times[i]));
        Array.Sort(rests);
        // 1.4826: from the median of absolute rests to a standard deviation; 1.57 = π/2: the variance of a median beside that of a mean, for normal rests.
        var deviation = 1.4826 * RankSums.MedianOfSorted(rests);
        return trend with
        {
            Test = test,
            Line = line,
            CentreDay = times[times.Length / 2],
            LevelReach = Normal.InvCDF(0, 1, (1 + trend.Confidence) / 2) * deviation * Math.Sqrt(1.57 * test.Factor / days.Count),
            IsSure = test.P <= LifeProjection.Significance && (line.Low > 0 || line.High < 0),
        };
    }

    // A step, or a rise such as a repair makes, begins another story: the line is that of the days since.
    private static (ChangeFinding? Change, int From, string Since) Change(TrendInput input)
    {
        var days = input.Days;
        var (times, values, variances, within) = (new double[days.Count], new double[days.Count], new double[days.Count], new double[days.Count]);
        for (var i = 0; i < days.Count; i++)
        {
            var own = (days[i].Error * days[i].Error) - (input.Wander * input.Wander);
            (times[i], values[i], variances[i], within[i]) = (ChannelTrend.ToDays(days[i].At), days[i].Value, Math.Max(own, 1e-10), 1);
        }

        var model = new ChangeModel();
        var change = model.Fit(times, values, variances, within, input.Wander, MemoryDays);
        if (change.Kind == ChangeKind.Unknown)
            return (null, 0, "");
        if (change.Kind != ChangeKind.Step)
            return (change, model.CutOff, model.CutOff > 0 ? $" since the rise on {DayOf(times[model.CutOff])}" : "");
        var from = Math.Max(model.CutOff, Array.FindIndex(times, time => time >= change.BeganToDays));
        return (change, from, $" since the step on {DayOf(change.BeganDays)}");
    }

    private static TrendProjection ProjectLife(ChannelTrend trend, List<DailyEstimate> days)
    {
        var target = Target(trend, -1);
        if (target is null)
            return new(null, null, null, null, "no threshold is set for it");
        double[] times = [.. days.Select(day => ChannelTrend.ToDays(day.At))];
        var seen = times[^1] - times[0];
        var life = LifeProjection.Project(times, [.. days.Select(day => day.Value)], [.. days.Select(day => day.Error)], target.Value, trend.Confidence);
        if (life.Crossing is not { } crossing)
            return new(target, null, null, null, life.Refusal, life.Passed);
        return seen < LeastDaysToProject
            ? new(target, null, null, null, $"it was seen for {seen:0} days: three weeks are the least")
            : new(target, ChannelTrend.FromDays(crossing.Low), At(crossing.Median), At(crossing.High), null);
    }

    private static TrendProjection ProjectLine(ChannelTrend trend)
    {
        var line = trend.Line!;
        var (first, last) = (ChannelTrend.ToDays(trend.Days[trend.LineFrom].At), ChannelTrend.ToDays(trend.Days[^1].At));
        var now = line.At(last);
        if (trend.Thresholds.FirstOrDefault(t => t.Above ? now >= t.Value : now <= t.Value) is { } passed)
            return new(passed, null, null, null, "the threshold is passed already", Passed: true);
        if (trend.Thresholds.Count == 0)
            return new(null, null, null, null, "no threshold is set for this channel");
        if (!trend.IsSure)
            return new(Target(trend, line.Slope), null, null, null, "the trend is not sure");
        if (Target(trend, line.Slope) is not { } target)
            return new(null, null, null, null, "it moves away from its thresholds");
        if (last - first < LeastDaysToProject)
            return new(target, null, null, null, $"it was seen for {last - first:0} days: three weeks are the least");

        // About the centre, where Sen's slopes turn; never before the last day.
        var farthest = last + (Farthest * (last - first));
        var away = target.Value - line.At(trend.CentreDay);
        double? Meet(double slope) => slope == 0 || away / slope < 0 || trend.CentreDay + (away / slope) > farthest ? null : Math.Max(last, trend.CentreDay + (away / slope));
        var (steep, flat) = line.Slope > 0 ? (line.High, line.Low) : (line.Low, line.High);
        return Meet(steep) is { } earliest
            ? new(target, ChannelTrend.FromDays(earliest), At(Meet(line.Slope)), At(Meet(flat)), null)
            : new(target, null, null, null, "the threshold is farther away than the series allows to look");
    }

    // The nearest of the thresholds that the line moves towards; for a tube the last of those below: its end of life.
    private static TrendThreshold? Target(ChannelTrend trend, double slope)
    {
        if (trend.IsHealthRatio)
            return trend.Thresholds.LastOrDefault(threshold => !threshold.Above);
        return slope == 0 ? null
            : slope > 0 ? trend.Thresholds.Where(threshold => threshold.Above).MinBy(threshold => threshold.Value)
            : trend.Thresholds.Where(threshold => !threshold.Above).MaxBy(threshold => threshold.Value);
    }

    private static List<TrendGap> Gaps(IReadOnlyList<DailyEstimate> days, IReadOnlyList<TrendGap> known)
    {
        List<TrendGap> gaps = [.. known];
        for (var i = 1; i < days.Count; i++)
        {
            if (days[i].At.SecondsSince(days[i - 1].At) > LongGapDays * 86_400)
                gaps.Add(new(days[i - 1].At, days[i].At, "no day with an estimate"));
        }

        gaps.Sort(static (a, b) => a.From.CompareTo(b.From));
        return gaps;
    }

    private static Instant? At(double? days) => days is { } known ? ChannelTrend.FromDays(known) : null;

    private static string DayOf(double days) => ChannelTrend.FromDays(days).ToString()[..10];
}
