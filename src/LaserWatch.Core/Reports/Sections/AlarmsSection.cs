using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Reports.Charts;

namespace LaserWatch.Reports.Sections;

/// <summary>Which alarms there were, and how fast somebody said that they were seen.</summary>
internal static class AlarmsSection
{
    /// <summary>More single alarms than this are not listed one by one; the counts hold all.</summary>
    public const int MostListed = 60;

    public static void Print(Markup page, EvidenceReport report)
    {
        var alarms = report.Alarms;
        if (alarms.Occurrences.Count == 0)
        {
            page.Paragraph("No alarm is stored for the time reported on. That means that none of the rules that could judge raised one; rules that lacked a sensor could not.");
            return;
        }

        var speed = new ReportTable(
            "acknowledgement-table", "How fast alarms were acknowledged", ("Priority", Cells.Heading), ("Raised", Cells.Figures), ("Acknowledged", Cells.Figures), ("Put aside", Cells.Figures),
            ("Never", Cells.Figures), ("Median time", Cells.Figures), ("Longest", Cells.Figures));
        foreach (var priority in alarms.ByPriority)
        {
            speed.Add(
                priority.Priority.Name(), Figures.Count(priority.Raised), Figures.Count(priority.Acknowledged), Figures.Count(priority.Shelved),
                new Cell(Figures.Count(priority.Never), priority.Never > 0), priority.MedianSeconds is { } median ? Figures.Duration(median) : "–",
                priority.LongestSeconds is { } longest ? Figures.Duration(longest) : "–");
        }

        speed.Print(page);
        page.Paragraph("Time from raising to the first acknowledgement by a person. An alarm put aside was shelved or taken out of service instead.", "note");

        var conditions = new ReportTable(
            "conditions-table", "Alarms by condition", ("Condition", Cells.Heading), ("Raised", Cells.Figures), ("Highest priority", Cells.Time), ("First (UTC)", Cells.Time), ("Last (UTC)", Cells.Time),
            ("Stood in all", Cells.Figures));
        foreach (var condition in alarms.ByCondition)
        {
            conditions.Add(
                condition.Condition, Figures.Count(condition.Raised), condition.Highest.Name(), Figures.Minute(condition.First), Figures.Minute(condition.Last),
                Figures.Duration(condition.StandingSeconds));
        }

        conditions.Print(page);
        Chart(page, report);
        List(page, alarms);
    }

    private static void Chart(Markup page, EvidenceReport report)
    {
        const string Title = "When alarms were raised";
        var alarms = report.Alarms;
        var left = alarms.ByCondition.Count - AlarmChart.MostRows;
        var span = (From: ChannelTrend.ToDays(Earlier(report.Conditions.First, alarms.Occurrences[0].Raised)), To: ChannelTrend.ToDays(Later(report.Conditions.Last, alarms.Occurrences[^1].Raised)));
        var description = $"{Figures.Counted(alarms.Occurrences.Count, "alarm")} of {Figures.Counted(alarms.ByCondition.Count, "condition")}, from {Figures.Date(alarms.Occurrences[0].Raised)} to {Figures.Date(alarms.Occurrences[^1].Raised)}.";
        page.Open("figure", ("id", "figure-alarms"))
            .Written(AlarmChart.Draw(Canvas.Wide, "alarms", alarms, span, Title, description)).Written(AlarmChart.Draw(Canvas.Narrow, "alarms", alarms, span, Title, description));
        page.Open("figcaption").Element("b", $"Figure {3 + ConditionsSection.RangeCount(report.Conditions)}. ")
            .Text(Title + ". Marks that would lie on one another are drawn as one, with the highest priority of them."
                + (left > 0 ? $" {Figures.Counted(left, "rarer condition")} {(left == 1 ? "is" : "are")} in the table alone." : "")).Close().CloseLine();
    }

    private static void List(Markup page, AlarmHistory alarms)
    {
        var listed = alarms.Occurrences;
        var caption = "Each alarm, in the order of time";
        if (listed.Count > MostListed)
        {
            // The gravest are worth the room; of one priority the latest.
            listed = [.. listed.OrderByDescending(alarm => alarm.Priority).ThenByDescending(alarm => alarm.Raised).Take(MostListed).OrderBy(alarm => alarm.Raised)];
            caption = $"{Figures.Count(MostListed)} of {Figures.Count(alarms.Occurrences.Count)} alarms: those of the highest priority, and of these the latest; the tables above count all";
        }

        var table = new ReportTable(
            "alarms-table", caption, ("Raised (UTC)", Cells.Time), ("Priority", Cells.Time), ("What was said", Cells.Words), ("Acknowledged after", Cells.Figures), ("Lasted", Cells.Figures));
        foreach (var alarm in listed)
        {
            table.Add(
                Figures.Minute(alarm.Raised), alarm.Priority.Name(), $"{alarm.Condition}: {alarm.Message}{(alarm.Job is null ? "" : $" (job {alarm.Job})")}",
                alarm.Acknowledged is { } seen ? Figures.Duration(seen.SecondsSince(alarm.Raised)) : alarm.Shelved ? "put aside" : new Cell("never", true),
                alarm.Returned is { } over ? Figures.Duration(over.SecondsSince(alarm.Raised)) : "still stood");
        }

        table.Print(page);
    }

    private static LaserWatch.Telemetry.Instant Earlier(LaserWatch.Telemetry.Instant? a, LaserWatch.Telemetry.Instant b) => a is { } known && known < b ? known : b;

    private static LaserWatch.Telemetry.Instant Later(LaserWatch.Telemetry.Instant? a, LaserWatch.Telemetry.Instant b) => a is { } known && known > b ? known : b;
}
