using System.Globalization;
using LaserWatch.Rules;

namespace LaserWatch.Alarms;

/// <summary>What a measured value is beside the recommended one. <c>default</c>: there is nothing to judge by.</summary>
public enum PerformanceVerdict
{
    NotJudged,
    Within,
    Above,
    TooLittleData,
}

/// <summary>One figure of an alarm system beside what the standards recommend.</summary>
/// <param name="Key">Its name in JSON.</param>
/// <param name="Value">Null where there is nothing to make it of.</param>
/// <param name="Unit">Empty for counts, else <c>%</c> or <c>s</c>.</param>
/// <param name="Recommended">In words; empty where nothing is recommended.</param>
/// <param name="Source">Which edition says so.</param>
/// <param name="Known">Whether that was read, or is from memory; empty where nothing is recommended.</param>
/// <param name="Why">Why it is not judged; null where it is, or nothing is recommended.</param>
public sealed record PerformanceMeasure(
    string Key, string Name, double? Value, string Unit, string Recommended, string Source, string Known, PerformanceVerdict Verdict, string? Why);

/// <summary>Sets the figures beside the recommended values. The values are per operating position: one person, the whole shop.</summary>
/// <remarks>
/// Sources: ISA-18.2-2009, IEC 62682:2014 and EEMUA 191. None was at hand: what is marked "read" was read as others quote it, the rest is
/// from memory. What no standard says is marked as common practice.
/// </remarks>
public static class PerformanceStandard
{
    /// <summary>Fewer days are too little to judge by (ISA-18.2, from memory).</summary>
    public const int LeastDays = 30;

    /// <summary>Of fewer things than these one is more than a percent, so a percentage is not judged.</summary>
    public const int LeastForPercent = 100;

    /// <summary>Of fewer different alarms, all alike, ten would be more than 5 %: their share is not judged.</summary>
    public const int LeastForTen = 200;

    private const string Both = "ISA-18.2-2009, IEC 62682:2014";
    private const string Omitted = "ISA-18.2-2009, IEC 62682:2014; omitted from ISA-18.2-2016";
    private const string Read = "read";
    private const string Memory = "from memory";

    public static IReadOnlyList<PerformanceMeasure> Judge(AlarmFigures f)
    {
        string? few = f.CoveredDays < LeastDays ? Text($"{f.CoveredDays} of at least {LeastDays} days") : null;
        string? fewCalls = f.Annunciations < LeastForPercent ? Text($"{f.Annunciations} annunciations: too few for percentages") : null;
        string? fewHours = f.CoveredHours < LeastForPercent ? Text($"{f.CoveredHours} hours: too few for percentages") : null;
        string? fewAlarms = f.DifferentAlarms < LeastForTen
            ? Text($"{f.DifferentAlarms} different alarms: too few, ten of {LeastForTen} alike are 5 % already")
            : null;
        return
        [
            Most("per_day", "annunciated a day, on average", f.PerDay, 144, "about 150 (ISA), 144 (IEC); manageable to 300, 288 (from memory)", Omitted, Read),
            Told("greatest_day", "most in a day", f.GreatestDay),
            Most("per_hour", "an hour, on average", f.PerHour, 6, "about 6; manageable to 12", Omitted, Memory),
            Most("greatest_hour", "most in an hour", f.GreatestHour, 15, "15 at most", "EEMUA 191", Read),
            Most("per_10_minutes", "in ten minutes, on average", f.PerTenMinutes, 1, "about 1; manageable to 2 (from memory)", "EEMUA 191; " + Omitted, Read),
            Most("greatest_10_minutes", "most in any ten minutes", f.GreatestTenMinutes, 10, "10 at most", Both, Memory),
            Below("percent_hours_over_30", "hours with more than 30", f.PercentHoursOver30, 1, "below 1 %", Both, fewHours),
            Below("percent_10_minutes_over_10", "ten minutes with more than 10", f.PercentTenMinutesOver10, 1, "below 1 %", Both, fewHours),
            Told("floods", "floods", f.Floods),
            Below("percent_in_flood", "time in flood", f.PercentInFlood, 1, "below 1 %", Both, fewHours),
            Most("chattering", "alarms that chattered: 3 or more in a minute", f.Chattering, 0, "none", "ISA-18.2; the criterion: common practice, no source", Memory),
            Most("fleeting", "fleeting: over within 30 s, unseen", f.Fleeting, 0, "none", "ISA-18.2; the 30 s: this program's choice", Memory),
            Told("stale_at_end", "stale: in alarm for over 24 h, at the end", f.StaleAtEnd),
            Most("stale_greatest", "most stale on a day", f.StaleGreatest, 4, "fewer than 5, each with a plan", Both, Memory),
            Share("percent_low", "low priority", f.PercentOf(AlarmPriority.Low), null, "about 80 %", fewCalls),
            Share("percent_medium", "medium priority", f.PercentOf(AlarmPriority.Medium), 20, "about 15 %; 20 % taken as the bound", fewCalls),
            Share("percent_high", "high priority", f.PercentOf(AlarmPriority.High), 7.5, "about 5 %; 7.5 % taken as the bound", fewCalls),
            Below("percent_urgent", "urgent priority", f.PercentOf(AlarmPriority.Urgent), 1, "below 1 %", Both + " (four priorities)", fewCalls),
            Judged("percent_ten_most_frequent", "the ten most frequent alarms", f.PercentOfTenMostFrequent, "%", v => v <= 5, "1 % to 5 %", Both, Memory, fewAlarms ?? fewCalls),
            Told("acknowledged", "acknowledged", f.AcknowledgedAfter.Count),
            Told("acknowledge_median", "time to acknowledge, median", f.AcknowledgedWithin(0.5)?.TotalSeconds, "s"),
            Told("acknowledge_90", "time to acknowledge, 90 % within", f.AcknowledgedWithin(0.9)?.TotalSeconds, "s"),
            Told("waiting", "not acknowledged at the end", f.Waiting),
            Told("shelved", "times shelved", f.Shelved.Times),
            Told("shelved_at_end", "shelved at the end", f.Shelved.AtEnd),
            Told("out_of_service", "times taken out of service", f.OutOfService.Times),
            Told("out_of_service_at_end", "out of service at the end", f.OutOfService.AtEnd),
            Told("suppressed", "times suppressed by design", f.SuppressedByDesign.Times),
            Told("suppressed_at_end", "suppressed by design at the end", f.SuppressedByDesign.AtEnd),
        ];

        PerformanceMeasure Most(string key, string name, double? value, double most, string recommended, string source, string known) =>
            Judged(key, name, value, "", v => v <= most, recommended, source, known, null);

        PerformanceMeasure Below(string key, string name, double? value, double bound, string recommended, string source, string? why) =>
            Judged(key, name, value, "%", v => v < bound, recommended, source, Memory, why);

        PerformanceMeasure Share(string key, string name, double? value, double? most, string recommended, string? why) => most is null
            ? new(key, name, value, "%", recommended, "EEMUA 191 (three priorities)", Read, PerformanceVerdict.NotJudged, "what the others leave")
            : Judged(key, name, value, "%", v => v <= most, recommended, Both + " (four priorities)", Memory, why);

        PerformanceMeasure Judged(
            string key, string name, double? value, string unit, Func<double, bool> isWithin, string recommended, string source, string known, string? why)
        {
            var reason = few ?? why ?? (value is null ? "nothing to make it of" : null);
            var verdict = reason is not null ? PerformanceVerdict.TooLittleData
                : isWithin(value!.Value) ? PerformanceVerdict.Within : PerformanceVerdict.Above;
            return new(key, name, value, unit, recommended, source, known, verdict, reason);
        }
    }

    private static PerformanceMeasure Told(string key, string name, double? value, string unit = "") =>
        new(key, name, value, unit, "", "", "", PerformanceVerdict.NotJudged, null);

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
