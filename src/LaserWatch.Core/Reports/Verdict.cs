using LaserWatch.History;
using LaserWatch.Rules;
using LaserWatch.Trends;

namespace LaserWatch.Reports;

/// <summary>The report in a few plain sentences. Nothing in it is said more surely than the figures allow, and nobody is blamed.</summary>
internal static class Verdict
{
    /// <summary>Records that begin later than this after the installation do not tell of the new tube.</summary>
    private static readonly TimeSpan LatestStart = TimeSpan.FromDays(14);

    public static IReadOnlyList<string> Of(EvidenceReport report) =>
        [Current(report), Age(report), Limits(report.Conditions), Cover(report)];

    /// <summary>What the figures show and what they cannot, in two sentences.</summary>
    public const string Reach =
        "This is what the sensors told while they were heard. Current is not light: a supply that regulates holds the current while a tube’s light fades, "
        + "and a supply, its wiring or the sensor can lower the current of a sound tube; the figures alone clear or blame neither.";

    /// <summary>The fall below the baseline as a part of it, with its interval; negative is a rise. Null without a line.</summary>
    public static (double Value, double Low, double High)? Fall(ChannelTrend? trend) =>
        trend?.Now is { } now ? (1 - now.Value, 1 - now.High, 1 - now.Low) : null;

    public static string Course(ChannelTrend trend) => trend.Change?.Kind switch
    {
        ChangeKind.Step => $"at once, about {Figures.Date(ChannelTrend.FromDays(trend.Change.Value.BeganDays))}",
        ChangeKind.Ramp => "slowly",
        _ => "",
    };

    private static string Current(EvidenceReport report)
    {
        if (report.Current is not { } trend)
            return "Of the tube’s current at fixed power nothing can be said: no steady current with the beam on is stored for this tube.";
        // What was learned long after the tube was put in is no baseline of the new tube, and must not be told as one.
        var first = trend.Days[0].At;
        var since = report.Age.Installed is not { } installed ? $"the first record of this tube on {Figures.Date(first)} (when it was put in is not stated)"
            : first.SecondsSince(installed) <= LatestStart.TotalSeconds ? $"the tube was put in on {Figures.Date(installed)}"
            : $"the first record of this tube on {Figures.Date(first)} (it had been in since {Figures.Date(installed)})";
        if (Fall(trend) is not { } fall)
            return $"Of the course of the tube’s current no statement can be made yet: {trend.Refusal ?? "there are too few days"}.";
        var interval = $"({Figures.Percent(trend.Confidence, 0)} interval {Figures.Number(fall.Low * 100, 1)} to {Figures.Percent(fall.High)})";
        if (fall is { Low: <= 0, High: >= 0 })
            return $"Since {since}, the current at fixed power shows no change that can be told from chance: {Signed(fall.Value)} {interval}.";
        var course = Course(trend);
        return fall.Value > 0
            ? $"Since {since}, the current at fixed power has fallen by {Figures.Percent(fall.Value)} {interval}{(course.Length > 0 ? $", {course}" : "")}{Pooled(trend)}."
            : $"Since {since}, the current at fixed power has risen by {Figures.Percent(-fall.Value)} ({Figures.Percent(trend.Confidence, 0)} interval {Figures.Number(-fall.High * 100, 1)} to {Figures.Percent(-fall.Low)}).";
    }

    private static string Pooled(ChannelTrend trend) => trend.Apart is { } apart
        ? $", over all powers; lately by {Figures.Percent(1 - apart.Lowest)} at {Figures.Number(apart.LowestAt, 0)} % power and by {Figures.Percent(1 - apart.Highest)} at {Figures.Number(apart.HighestAt, 0)} %"
        : "";

    private static string Signed(double fall) => fall >= 0 ? $"a fall of {Figures.Percent(fall)}" : $"a rise of {Figures.Percent(-fall)}";

    private static string Age(EvidenceReport report)
    {
        var (age, rating) = (report.Age, report.Rating);
        var hours = HoursRun(report);
        var rated = $"{Figures.WithUnit(rating.Hours, 0, "h")}{(rating.HoursStated ? "" : " (assumed)")}";
        return age.Months is { } months
            ? $"The tube has {hours} of beam of the {rated} it is rated for, and is {Figures.WithUnit(months, 1, "months")} old of {Figures.WithUnit(rating.Months, 0, "months")}{(rating.MonthsStated ? "" : " (assumed)")}."
            : $"The tube has {hours} of beam of the {rated} it is rated for; when it was put in is not stated.";
    }

    public static string HoursRun(EvidenceReport report) =>
        report.Age.HoursAtMost > report.Age.Hours * 1.02 && report.Age.HoursAtMost - report.Age.Hours > 1
            ? $"{Figures.Number(report.Age.Hours, 0)} to {Figures.WithUnit(report.Age.HoursAtMost, 0, "h")}"
            : Figures.WithUnit(report.Age.Hours, report.Age.Hours < 100 ? 1 : 0, "h");

    private static string Limits(OperatingSummary conditions)
    {
        if (conditions.AllLimits.ShareOutside is not { } outside)
            return "Whether it was run within limits cannot be said: no limit could be judged with the beam on.";
        var judged = conditions.Limits.Count(limit => limit.InBeam.KnownSeconds > 0);
        var lacking = conditions.Limits.Count - judged;
        return $"With the beam on, {(judged == 1 ? "the one limit that could be judged was" : $"all {judged} limits that could be judged were")} kept {Figures.Share(1 - outside)} of the time"
            + (lacking > 0 ? $"; {lacking} could not be judged." : ".");
    }

    private static string Cover(EvidenceReport report)
    {
        var conditions = report.Conditions;
        if (conditions.First is null)
            return "There is no sample of this machine in the time reported on.";
        var told = conditions.Cover is { } cover
            ? $"From the first to the last sample the records cover {Figures.Share(cover)} of the beam hours that the machine’s own meter counted"
            : $"The records hold samples of {Figures.Counted(conditions.Days.Count, "day")}, and no hour meter tells what ran unseen";
        return told + (UnseenBefore(report) is { } before ? $"; of the {Figures.Duration(before)} before them nothing is known." : ".");
    }

    /// <summary>Seconds from the installation to the first sample, where that is long enough to matter; null otherwise, and where the installation is not known.</summary>
    public static double? UnseenBefore(EvidenceReport report) =>
        report.Age.Installed is { } installed && report.Conditions.First is { } first && first.SecondsSince(installed) > LatestStart.TotalSeconds ? first.SecondsSince(installed) : null;
}
