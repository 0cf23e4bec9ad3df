using LaserWatch.Alarms;
using LaserWatch.Rules;

namespace LaserWatch.Reports.Sections;

/// <summary>What is missing, stated openly.</summary>
internal static class GapsSection
{
    private const int MostListed = 20;

    public static void Print(Markup page, EvidenceReport report)
    {
        var conditions = report.Conditions;
        if (conditions.First is { } first && conditions.Last is { } last)
        {
            page.Paragraph(
                $"{Figures.Counted(conditions.Samples, "sample")} from {Figures.Minute(first)} to {Figures.Minute(last)} UTC."
                + (report.Age.Installed is { } installed && first.SecondsSince(installed) > 86_400 ? $" The tube was put in {Figures.Duration(first.SecondsSince(installed))} before the first of them: of that time nothing is known." : ""));
        }

        Known(page, report);
        Silent(page, conditions);
        Channels(page, conditions);
        SensorFaults(page, report);
        if (report.Duplicates + report.Conflicts > 0)
        {
            page.Paragraph(
                $"Since the store was made, {Figures.Counted(report.Duplicates, "sample")} of this machine came twice with the same value and {(report.Duplicates == 1 ? "was" : "were")} kept once; "
                + $"{Figures.Count(report.Conflicts)} came for a time that had another value already, and the first was kept.");
        }
    }

    private static void Known(Markup page, EvidenceReport report)
    {
        if (report.Gaps.Count == 0)
        {
            page.Paragraph("The agent recorded no loss of samples in the time reported on.");
            return;
        }

        var listed = report.Gaps.OrderByDescending(gap => gap.To.SecondsSince(gap.From)).Take(MostListed).OrderBy(gap => gap.From).ToList();
        var table = new ReportTable(
            "gaps-table",
            listed.Count < report.Gaps.Count
                ? $"The longest {Figures.Count(listed.Count)} of {Figures.Count(report.Gaps.Count)} times the agent knows it lacks, together {Figures.Duration(report.Gaps.Sum(gap => gap.To.SecondsSince(gap.From)))}"
                : "Times the agent knows it lacks",
            ("From (UTC)", Cells.Time), ("To (UTC)", Cells.Time), ("Length", Cells.Figures), ("Samples lost", Cells.Figures), ("Reason", Cells.Words));
        foreach (var gap in listed)
            table.Add(Figures.Minute(gap.From), Figures.Minute(gap.To), Figures.Duration(gap.To.SecondsSince(gap.From)), gap.Lost > 0 ? Figures.Count(gap.Lost) : Figures.NotKnown, gap.Reason);
        table.Print(page);
    }

    private static void Silent(Markup page, OperatingSummary conditions)
    {
        if (conditions.Silences.Count == 0)
        {
            if (conditions.First is not null)
                page.Paragraph("Between the first and the last sample the machine was never silent for more than ten minutes.");
            return;
        }

        var unseen = conditions.Silences.Where(silence => silence.MeterHours > 0).ToList();
        page.Paragraph(
            $"No sensor of the machine was heard in {Figures.Counted(conditions.Silences.Count, "stretch", "stretches")} of more than ten minutes, together {Figures.Duration(conditions.Silences.Sum(silence => silence.Seconds))}. "
            + "Whether the machine was off then, or only the sensors or the network, the samples do not tell."
            + (conditions.MeterHours is null ? " No hour meter was read that would show it."
                : unseen.Count == 0 ? " The machine’s hour meter did not move in any of them."
                : $" The machine’s hour meter moved on in {Figures.Count(unseen.Count)} of them, by {Figures.WithUnit(unseen.Sum(silence => silence.MeterHours!.Value), 1, "h")} together: so much beam was not seen."));
        var listed = conditions.Silences.OrderByDescending(silence => silence.MeterHours ?? 0).ThenByDescending(silence => silence.Seconds).Take(MostListed / 2).OrderBy(silence => silence.From).ToList();
        var table = new ReportTable(
            "silences-table", listed.Count < conditions.Silences.Count ? $"{Figures.Count(listed.Count)} of them: first where the hour meter moved, then the longest" : "Silent stretches",
            ("From (UTC)", Cells.Time), ("To (UTC)", Cells.Time), ("Length", Cells.Figures), ("Hour meter moved by", Cells.Figures));
        foreach (var silence in listed)
        {
            table.Add(
                Figures.Minute(silence.From), Figures.Minute(silence.To), Figures.Duration(silence.Seconds),
                silence.MeterHours is { } hours ? new Cell(Figures.WithUnit(hours, 1, "h"), hours > 0) : Figures.NotKnown);
        }

        table.Print(page);
    }

    private static void Channels(Markup page, OperatingSummary conditions)
    {
        if (conditions.Heard.Count == 0)
            return;
        var table = new ReportTable("channels-table", "What was heard", ("Channel", Cells.Heading), ("Unit", Cells.Time), ("Samples", Cells.Figures), ("Usual interval", Cells.Figures), ("Implausible, left out", Cells.Figures));
        foreach (var heard in conditions.Heard)
        {
            table.Add(
                heard.Channel.Name, heard.Channel.Unit.Length == 0 ? "–" : heard.Channel.Unit, Figures.Count(heard.Samples), heard.UsualSeconds > 0 ? Figures.Duration(heard.UsualSeconds) : "–",
                new Cell(Figures.Count(heard.Implausible), heard.Implausible > 0));
        }

        table.Print(page);
    }

    private static void SensorFaults(Markup page, EvidenceReport report)
    {
        var faults = report.Alarms.Occurrences.Where(alarm => alarm.Condition is Conditions.SensorSilent or Conditions.SensorStuck or Conditions.SensorImplausible).ToList();
        if (faults.Count == 0)
        {
            page.Paragraph("The agent reported no fault of a sensor (silent during a run, frozen, or reading what cannot be).");
            return;
        }

        var listed = faults.TakeLast(MostListed).ToList();
        var table = new ReportTable(
            "faults-table", listed.Count < faults.Count ? $"The latest {Figures.Count(listed.Count)} of {Figures.Count(faults.Count)} faults of sensors that the agent reported" : "Faults of sensors that the agent reported",
            ("Raised (UTC)", Cells.Time), ("Lasted", Cells.Figures), ("What was said", Cells.Words));
        foreach (var fault in listed)
            table.Add(Figures.Minute(fault.Raised), fault.Returned is { } over ? Figures.Duration(over.SecondsSince(fault.Raised)) : "still stood", $"{fault.Condition}: {fault.Message}");
        table.Print(page);
    }
}
