namespace LaserWatch.Reports.Sections;

/// <summary>What was done to the machine, as it was logged.</summary>
internal static class ServiceSection
{
    /// <summary>The part under which the agent itself logs what the configuration says of the sensors.</summary>
    public const string Calibration = "calibration";

    public static void Print(Markup page, EvidenceReport report)
    {
        var works = report.Services;
        if (works.Count == 0)
        {
            page.Paragraph("The service log holds no entry for the time reported on.");
            return;
        }

        var table = new ReportTable(
            "service-table", "Service log, in the order of time", ("No.", Cells.Figures), ("When (UTC)", Cells.Time), ("Part", Cells.Heading), ("Action", Cells.Words), ("Serial", Cells.Words), ("Note and further fields", Cells.Words));
        for (var i = 0; i < works.Count; i++)
        {
            var work = works[i];
            var further = work.Part == Calibration ? "see the section on calibration" : string.Join(", ", work.Details.OrderBy(detail => detail.Key, StringComparer.Ordinal).Select(detail => $"{detail.Key} {detail.Value}"));
            table.Add($"{i + 1}", Figures.Minute(work.At), work.Part, work.Action, work.Serial ?? "", string.Join("; ", new[] { work.Note ?? "", further }.Where(text => text.Length > 0)));
        }

        table.Print(page);
        page.Paragraph("Entries are people’s own words, at the times they gave. Work that nobody logged is not here.", "note");
    }

    public static void PrintCalibration(Markup page, EvidenceReport report)
    {
        if (report.Sensors.Count == 0)
        {
            page.Paragraph("The configuration in force describes no sensor of this machine: every value was taken as it was sent, in the canonical unit of its channel. How the sensors themselves were calibrated is not stated.");
        }
        else
        {
            var table = new ReportTable("sensors-table", "Sensors as configured when this report was made", ("Channel", Cells.Heading), ("Messages", Cells.Words), ("From what is sent to what is measured", Cells.Words));
            foreach (var sensor in report.Sensors)
                table.Add(sensor.Channels, sensor.Source, sensor.Chain);
            table.Print(page);
            page.Paragraph("Channels not named here were taken as they were sent, in their canonical unit.", "note");
        }

        var changes = report.Services.Where(service => service.Part == Calibration).ToList();
        if (changes.Count == 0)
        {
            page.Paragraph("No calibration entry is stored for the time reported on, so it is not known since when the above has been in force.");
            return;
        }

        var log = new ReportTable("calibration-table", "Calibration entries, in the order of time", ("When (UTC)", Cells.Time), ("Action", Cells.Heading), ("What is said", Cells.Words));
        foreach (var change in changes)
        {
            var further = string.Join("\n", change.Details.OrderBy(detail => detail.Key, StringComparer.Ordinal).Select(detail => $"{detail.Key}: {detail.Value}"));
            log.Add(Figures.Minute(change.At), change.Action, string.Join("\n", new[] { change.Serial ?? "", change.Note ?? "", further }.Where(text => text.Length > 0)));
        }

        log.Print(page);
        page.Paragraph("“in-force” is entered by the agent at its start whenever the configured sensors differ from those it last entered; other entries are people’s.", "note");
    }
}
