using LaserWatch.Telemetry;
using LaserWatch.Trends;

namespace LaserWatch.History;

/// <summary>What a trend says, in sentences that table, picture and report share.</summary>
public static class TrendSentences
{
    /// <summary>Such as <c>95.2 % of the baseline (94.8 to 95.6)</c>.</summary>
    public static string Now(ChannelTrend trend)
    {
        var numbers = new TrendNumbers(trend);
        if (trend.Now is { } now)
            return $"{numbers.Value(now.Value)} {numbers.UnitInWords}".TrimEnd() + $" ({numbers.Value(now.Low)} to {numbers.Value(now.High)})";
        return trend.Days.Count == 0 ? "nothing is known" : $"{numbers.Value(trend.Days[^1].Value)} {numbers.UnitInWords}".TrimEnd() + $" on {Date(trend.Days[^1].At)}, the last day";
    }

    /// <summary>Such as <c>-0.52 % of the baseline (-0.58 to -0.46); sure (p &lt; 0.001)</c>, or why there is none.</summary>
    public static string PerMonth(ChannelTrend trend)
    {
        if (trend.PerMonth is not { } month || trend.Test is not { } test)
            return trend.Refusal ?? "";
        var numbers = new TrendNumbers(trend);
        var sure = trend.IsSure ? $"sure ({TrendNumbers.P(test.P)})" : $"not sure: it may be chance ({TrendNumbers.P(test.P)})";
        return $"{numbers.Change(month.Value)} {numbers.UnitInWords}".TrimEnd() + $" ({numbers.Change(month.Low)} to {numbers.Change(month.High)}); {sure}";
    }

    /// <summary>How it changed: at once or slowly, since when, by how much; null where nothing was judged.</summary>
    public static string? Course(ChannelTrend trend)
    {
        if (trend.Change is not { } change)
            return null;
        if (change.Kind == ChangeKind.None)
            return "no change that stands out from the machine's wander";
        var numbers = new TrendNumbers(trend);
        var (low, high) = (change.Fall - (1.645 * change.FallError), change.Fall + (1.645 * change.FallError));
        var size = $"{numbers.Value(change.Fall)} {numbers.Unit}".TrimEnd() + $" ({numbers.Value(Math.Max(0, low))} to {numbers.Value(high)})";
        var (began, from, to) = (Date(ChannelTrend.FromDays(change.BeganDays)), Date(ChannelTrend.FromDays(change.BeganFromDays)), Date(ChannelTrend.FromDays(change.BeganToDays)));
        var since = from == to ? $"on {began}" : $"about {began} (between {from} and {to})";
        return change.Kind == ChangeKind.Step ? $"a fall at once {since}: {size}" : $"a slow fall that began {since}: {size} so far";
    }

    /// <summary>Such as <c>end of life (85 %) about 2028-01-10 (2027-09-02 to 2028-07-30)</c>, or why there is no date.</summary>
    public static string Projected(ChannelTrend trend)
    {
        var (projection, numbers) = (trend.Projection, new TrendNumbers(trend));
        var name = projection.Threshold is { } threshold ? $"{threshold.Name} ({numbers.Plain(threshold.Value)})" : "";
        if (projection.Earliest is not { } earliest)
            return projection.Threshold is null ? $"no date: {projection.Refusal}" : $"no date for {name}: {projection.Refusal}";
        var latest = projection.Latest is { } last ? $"to {Date(last)}" : "to farther than can be told";
        return projection.Median is { } median ? $"{name} about {Date(median)} ({Date(earliest)} {latest})" : $"{name} not before {Date(earliest)}";
    }

    public static string Date(Instant at) => at.ToString()[..10];
}
