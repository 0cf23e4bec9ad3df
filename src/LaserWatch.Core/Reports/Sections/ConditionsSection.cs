using LaserWatch.Reports.Charts;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports.Sections;

/// <summary>How the machine was run: limits kept or not, use by power and by month, the days of coolant and air.</summary>
internal static class ConditionsSection
{
    private static readonly (Channel Channel, string Name)[] Shown =
    [
        (Channel.CoolantIn, "Coolant entering the tube"), (Channel.CoolantOut, "Coolant leaving the tube"), (Channel.CoolantFlow, "Coolant flow"),
        (Channel.AirPressure, "Air assist pressure"),
    ];

    public static void Print(Markup page, EvidenceReport report)
    {
        var conditions = report.Conditions;
        if (conditions.First is null)
        {
            page.Paragraph("No sample of this machine is stored for the time reported on, so nothing can be said of how it was run.");
            return;
        }

        Limits(page, conditions);
        Use(page, conditions);
        Months(page, conditions);
        Ranges(page, report);
    }

    private static void Limits(Markup page, OperatingSummary conditions)
    {
        ReportTable.PrintFacts(page, "what-limits-table", "What counts as outside", conditions.Limits.Select(limit =>
            (limit.Name, limit.Lack is { } lack ? $"not judged: {lack}" : IdentitySection.Sentence(limit.Limit))));
        var table = new ReportTable(
            "limits-table", "Time outside each limit", ("Limit", Cells.Heading), ("Counted", Cells.Time), ("Judged", Cells.Figures), ("Outside", Cells.Figures), ("Share", Cells.Figures),
            ("Longest spell", Cells.Figures), ("From (UTC)", Cells.Time), ("Worst value", Cells.Words));
        foreach (var limit in conditions.Limits.Where(limit => limit.Lack is null))
        {
            if (!limit.OnlyInBeam)
                Row(table, limit.Name, "always", limit, limit.Always);
            Row(table, limit.Name, "beam on", limit, limit.InBeam);
        }

        if (table.Rows > 0)
            table.Print(page);
        page.Paragraph(
            "Weighed by time. A sample counts until the next of its channel, but no longer than its sensor is patiently waited for (ten of its usual intervals unless configured otherwise, "
            + "at least 30 s and at most 15 min); what lies beyond is not known, and counts neither in nor out. A spell ends when the value is back inside, or when nothing was known for a minute. "
            + "The air is judged from some seconds after the beam came on, and against the record of the job under way. The worst value is the one farthest beyond its limit or, where none was, nearest to it.", "note");
    }

    private static void Row(ReportTable table, string name, string counted, LimitUse limit, LimitTime time)
    {
        if (time.KnownSeconds == 0)
        {
            table.Add(name, counted, "never", "", "", "", "", "");
            return;
        }

        var outside = time.OutsideSeconds > 0;
        table.Add(
            name, counted, Figures.Hours(time.KnownSeconds), new Cell(outside ? Figures.Duration(time.OutsideSeconds) : "none", outside), new Cell(Figures.Share(time.ShareOutside!.Value), outside),
            time.Longest is { } longest ? Figures.Duration(longest.Seconds) : "–", time.Longest is { } spell ? Figures.Minute(spell.Begin) : "–",
            time.Worst is { } worst ? $"{Figures.Value(worst, limit.Unit)} (limit {Figures.Value(time.WorstLimit!.Value, limit.Unit)})" : "–");
    }

    private static void Use(Markup page, OperatingSummary conditions)
    {
        var bands = Enumerable.Range(0, conditions.PowerBands.Count).Where(i => conditions.PowerBands[i] > 0)
            .Select(i => $"{i * 10} to {(i + 1) * 10}\u00a0%: {Figures.Hours(conditions.PowerBands[i])}").ToList();
        if (conditions.BeamOfUnknownPowerSeconds > 0)
            bands.Add($"power not known: {Figures.Hours(conditions.BeamOfUnknownPowerSeconds)}");
        ReportTable.PrintFacts(page, "use-table", "Use in the time reported on", [
            ("First and last sample", $"{Figures.Minute(conditions.First!.Value)} and {Figures.Minute(conditions.Last!.Value)} UTC"),
            ("Beam on", Figures.Hours(conditions.BeamSeconds)),
            ("Within runs of a job", conditions.RunSeconds > 0 ? $"{Figures.Hours(conditions.RunSeconds)}, of which beam on {Figures.Percent(conditions.Duty ?? 0, 0)}" : "no run is stored"),
            ("Machine heard", Figures.Hours(conditions.HeardSeconds)),
            ("Days of use", $"{Figures.Count(conditions.DaysOfUse)} with a minute of beam or more, of {Figures.Counted(conditions.Days.Count, "day")} with data"),
            ("Beam hours by commanded power", bands.Count > 0 ? string.Join("\n", bands) : Figures.NotKnown),
        ]);
    }

    private static void Months(Markup page, OperatingSummary conditions)
    {
        var months = ByMonth(conditions.Days);
        if (months.Count == 0 || conditions.BeamSeconds == 0)
            return;
        var most = months.MaxBy(month => month.Hours);
        const string Title = "Beam hours by month";
        var description = $"{Figures.Counted(months.Count, "month")} from {Figures.Date(months[0].Month)[..7]} to {Figures.Date(months[^1].Month)[..7]}; "
            + $"{Figures.WithUnit(months.Sum(month => month.Hours), 1, "h")} in all, most in {Figures.Date(most.Month)[..7]}: {Figures.WithUnit(most.Hours, 1, "h")}.";
        Figure(page, "months", canvas => MonthChart.Draw(canvas, "months", months, Title, description), "Figure 2. ", Title + ", UTC.");
    }

    private static void Ranges(Markup page, EvidenceReport report)
    {
        var conditions = report.Conditions;
        var span = (From: (double)Number(conditions.Days[0].Day), To: Number(conditions.Days[^1].Day) + 1.0);
        var figure = 3;
        foreach (var (channel, name) in Shown)
        {
            if (!conditions.Ranges.TryGetValue(channel, out var days))
                continue;
            var title = $"{name}, {channel.Unit}, by day with the beam on";
            var description = $"{Figures.Counted(days.Count, "day")}; least {Figures.Value(days.Min(day => day.Low), channel.Unit)}, greatest {Figures.Value(days.Max(day => day.High), channel.Unit)}.";
            var id = "range-" + channel.Name.Replace('_', '-');
            Figure(
                page, id, canvas => RangeChart.Draw(canvas, id, days, span, channel.Unit, LimitsOf(conditions, channel), title, description), $"Figure {figure++}. ",
                $"{title}: from the least to the greatest sample (thin), and the median of the minutes (line).");
        }
    }

    public static int RangeCount(OperatingSummary conditions) => Shown.Count(shown => conditions.Ranges.ContainsKey(shown.Channel));

    private static List<(double, string)> LimitsOf(OperatingSummary conditions, Channel channel)
    {
        List<(double, string)> limits = [];
        foreach (var limit in conditions.Limits.Where(limit => limit.Lack is null))
        {
            var drawn = (channel == Channel.CoolantIn && limit.Key is "coolant-hot" or "coolant-cold") || (channel == Channel.CoolantFlow && limit.Key is "coolant-flow-low");
            if (drawn && limit.Widest.WorstLimit is { } level)
                limits.Add((level, $"limit {Figures.Value(level, channel.Unit)}"));
        }

        return limits;
    }

    private static void Figure(Markup page, string id, Func<Canvas, string> draw, string number, string words)
    {
        page.Open("figure", ("id", "figure-" + id)).Written(draw(Canvas.Wide)).Written(draw(Canvas.Narrow));
        page.Open("figcaption").Element("b", number).Text(words).Close().CloseLine();
    }

    private static List<(DateOnly Month, double Hours)> ByMonth(IReadOnlyList<DayUse> days)
    {
        List<(DateOnly, double)> months = [];
        if (days.Count == 0)
            return months;
        var byMonth = days.GroupBy(day => (day.Day.Year, day.Day.Month)).ToDictionary(group => group.Key, group => group.Sum(day => day.BeamSeconds) / 3600);
        for (var month = new DateOnly(days[0].Day.Year, days[0].Day.Month, 1); month <= days[^1].Day; month = month.AddMonths(1))
            months.Add((month, byMonth.GetValueOrDefault((month.Year, month.Month))));
        return months;
    }

    private static int Number(DateOnly day) => day.DayNumber - new DateOnly(1970, 1, 1).DayNumber;
}
