using LaserWatch.Rules;

namespace LaserWatch.Reports.Sections;

/// <summary>Which machine, which tube, under which terms; how old.</summary>
internal static class IdentitySection
{
    public const string NotStated = "not stated";

    public static void Print(Markup page, EvidenceReport report)
    {
        var who = report.Identity;
        ReportTable.PrintFacts(page, "identity-table", "Machine and tube", [
            ("Machine", report.Machine),
            ("Make and model of the machine", who.MachineModel ?? NotStated),
            ("Shop", who.Shop ?? NotStated),
            ("Tube maker", who.TubeMaker ?? NotStated),
            ("Tube model", who.TubeModel ?? NotStated),
            ("Tube serial number", who.TubeSerial ?? report.Age.Serial ?? report.Period?.Serial ?? NotStated),
            ("High-voltage supply", who.Supply ?? NotStated),
            ("Purchased", who.Purchased is { } bought ? Figures.Date(bought) : NotStated),
            ("Put in", Installed(report)),
            ("Claim reference", who.Claim ?? NotStated),
            ("Rated beam hours", Figures.WithUnit(report.Rating.Hours, 0, "h") + Assumed(report.Rating.HoursStated)),
            ("Rated age", Figures.WithUnit(report.Rating.Months, 0, "months") + Assumed(report.Rating.MonthsStated)),
            ("Rated current", report.Rating.CurrentMilliamps is { } current ? Figures.WithUnit(current, 1, "mA") : NotStated),
            ("Warranty terms, as the shop entered them", who.Terms ?? NotStated),
        ]);
        page.Paragraph("These entries were made by the shop; no sensor can confirm them.", "note");
    }

    public static void PrintAge(Markup page, EvidenceReport report)
    {
        var age = report.Age;
        ReportTable.PrintFacts(page, "age-table", $"At the end of the time reported on, {Figures.Minute(report.To)} UTC", [
            ("Beam hours of this tube", Verdict.HoursRun(report)),
            ("How they were counted", Sentence(age.Method)),
            ("Of the rated hours", Figures.Percent(age.Hours / report.Rating.Hours, 0) + (age.HoursAtMost > age.Hours * 1.02 ? $" to {Figures.Percent(age.HoursAtMost / report.Rating.Hours, 0)}" : "")),
            ("Calendar age", age.Months is { } months ? $"{Figures.WithUnit(months, 1, "months")} of 30.4 days, {Figures.Percent(months / report.Rating.Months, 0)} of the rated age" : Figures.NotKnown),
            ("Hour meter of the machine", Meter(report.Conditions)),
        ]);
        if (age.HoursAtMost > age.Hours * 1.02 && age.HoursAtMost - age.Hours > 1)
        {
            page.Paragraph(
                "The lower figure was seen by the watch. The higher is the most there can have been: what the hour meter shows, or the time that passed unseen, if that is less.", "note");
        }
    }

    /// <summary>The first letter made a capital, and a full stop at the end.</summary>
    public static string Sentence(string words) =>
        words.Length == 0 ? words : char.ToUpperInvariant(words[0]) + words[1..].TrimEnd('.') + ".";

    private static string Assumed(bool stated) => stated ? "" : " (no sheet was entered: a common figure of the trade, without a published source)";

    private static string Installed(EvidenceReport report) =>
        report.Age.Installed is { } at ? Figures.Date(at)
        : report.Identity.Installed is { } day ? Figures.Date(day)
        : NotStated;

    private static string Meter(OperatingSummary conditions) =>
        conditions.MeterFirst is { } first && conditions.MeterLast is { } last
            ? $"{Figures.WithUnit(first, 1, "h")} at the first and {Figures.WithUnit(last, 1, "h")} at the last reading in the time reported on"
            : "none was heard";
}
