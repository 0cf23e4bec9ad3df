using LaserWatch.History;
using LaserWatch.Reports.Charts;
using LaserWatch.Rules;

namespace LaserWatch.Reports.Sections;

/// <summary>The first screen: the tube's figure, what came of it in words, what stands beside it as a list, the course of the current.</summary>
internal static class SummarySection
{
    public static void Print(Markup page, EvidenceReport report)
    {
        page.Open("section", ("id", "summary"), ("aria-labelledby", "summary-title"));
        page.Element("h2", "Summary", ("id", "summary-title")).Line();
        First(page, report);
        page.Paragraph(string.Join(' ', Verdict.Of(report)), "verdict");
        Beside(page, report);
        page.Paragraph(Verdict.Reach, "note");
        if (report.Current is { Days.Count: > 0 } trend)
            Chart(page, report, trend);
        page.CloseLine();
    }

    private static void First(Markup page, EvidenceReport report)
    {
        page.Open("p", ("class", "first"));
        if (Verdict.Fall(report.Current) is { } fall)
        {
            page.Element("strong", Figures.Percent(1 - fall.Value)).Text(" of its baseline: the tube’s current at fixed power "
                + $"({Figures.Percent(report.Current!.Confidence, 0)} interval {Figures.Number((1 - fall.High) * 100, 1)} to {Figures.Percent(1 - fall.Low)}).");
        }
        else
        {
            page.Element("strong", "Not known:").Text(" the tube’s current at fixed power against its baseline. There is too little data for a trend.");
        }

        page.CloseLine();
    }

    private static void Beside(Markup page, EvidenceReport report)
    {
        page.Open("dl", ("class", "list")).Line();
        Row(page, "Beam hours of this tube", Verdict.HoursRun(report),
            $"rated {Figures.WithUnit(report.Rating.Hours, 0, "h")}{(report.Rating.HoursStated ? "" : ", assumed")}");
        Row(page, "Age since it was put in", report.Age.Months is { } months ? Figures.WithUnit(months, 1, "months") : Figures.NotKnown,
            $"rated {Figures.WithUnit(report.Rating.Months, 0, "months")}{(report.Rating.MonthsStated ? "" : ", assumed")}");
        var all = report.Conditions.AllLimits;
        Row(page, "Within all judged limits, beam on", all.ShareOutside is { } outside ? Figures.Share(1 - outside) : Figures.NotKnown,
            all.ShareOutside is null ? "no limit could be judged" : $"of {Figures.Hours(all.KnownSeconds)} judged");
        var raised = report.Alarms.Occurrences.Count;
        var urgent = report.Alarms.Occurrences.Count(alarm => alarm.Priority >= LaserWatch.Alarms.AlarmPriority.High);
        Row(page, "Alarms raised", Figures.Count(raised), raised == 0 ? "none stored" : $"of them {Figures.Count(urgent)} of high or urgent priority");
        if (report.Conditions.Cover is { } cover)
            Row(page, "Data cover of beam hours", Figures.Share(cover), Verdict.UnseenBefore(report) is null ? "against the machine’s hour meter" : $"by the hour meter, but only from {Figures.Date(report.Conditions.First!.Value)} on");
        else
            Row(page, "Days with data", Figures.Count(report.Conditions.Days.Count), "no hour meter to hold it against");
        page.CloseLine();
    }

    private static void Row(Markup page, string name, string figure, string note) =>
        page.Open("div").Element("dt", name).Open("dd").Element("b", figure).Text($", {note}").Close().CloseLine();

    private static void Chart(Markup page, EvidenceReport report, ChannelTrend trend)
    {
        var title = "Tube current at fixed power, as per cent of its baseline, by day";
        var description = Describe(trend);
        page.Open("figure", ("id", "figure-current"));
        var log = report.Services.ToList();
        var numbers = trend.Services.Select(mark => log.FindIndex(service => service.At == mark.At && service.Part == mark.Part && service.Action == mark.Action) + 1).ToList();
        page.Written(HealthChart.Draw(Canvas.Wide, "current", trend, numbers, title, description));
        page.Written(HealthChart.Draw(Canvas.Narrow, "current", trend, numbers, title, description));
        var beyond = HealthChart.Beyond(trend);
        page.Open("figcaption").Element("b", "Figure 1. ").Text(
            $"{title}. {IdentitySection.Sentence(trend.What)}"
            + (trend.Services.Count > 0 ? " Services are numbered as in the service history." : "")
            + (beyond > 0 ? $" {Figures.Counted(beyond, "estimate")} beyond the picture {(beyond == 1 ? "is" : "are")} marked by wedges at its edge." : "")).Close();
        page.CloseLine();
    }

    private static string Describe(ChannelTrend trend)
    {
        var span = $"{Figures.Counted(trend.Days.Count, "daily estimate")} from {Figures.Date(trend.Days[0].Day)} to {Figures.Date(trend.Days[^1].Day)}";
        var line = trend.Now is { } now
            ? $"the robust line ends at {Figures.Percent(now.Value)}, interval {Figures.Percent(now.Low)} to {Figures.Percent(now.High)}"
            : $"without a line: {trend.Refusal}";
        return $"{span}; {line}.";
    }
}
