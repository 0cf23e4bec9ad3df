using LaserWatch.Reports.Sections;

namespace LaserWatch.Reports;

/// <summary>Prints an <see cref="EvidenceReport"/> as one self-contained page: HTML that is well-formed XML too, with its style and drawings within, and no script.</summary>
public static class HtmlReport
{
    private static readonly Section[] Sections =
    [
        new("identity", "Machine, tube and terms", IdentitySection.Print),
        new("age", "Hours run and age", IdentitySection.PrintAge),
        new("current", "Course of the tube current", CurrentSection.Print),
        new("conditions", "Operating conditions", ConditionsSection.Print),
        new("alarms", "Alarms and acknowledgement", AlarmsSection.Print),
        new("service", "Service history", ServiceSection.Print),
        new("gaps", "Gaps in the data and sensor faults", GapsSection.Print),
        new("calibration", "Calibration", ServiceSection.PrintCalibration),
        new("proof", "Proof of integrity", ProofSection.Print),
        new("cautions", "What this does not show", CautionsSection.Print),
    ];

    /// <summary>The whole page; the same content gives the same bytes.</summary>
    public static string Print(EvidenceReport report)
    {
        var serial = report.Identity.TubeSerial ?? report.Age.Serial ?? report.Period?.Serial;
        var title = $"Evidence report: tube {serial ?? "without a stated serial number"} in machine {report.Machine}";
        var page = new Markup().Written("<!DOCTYPE html>\n");
        page.Open("html", ("xmlns", "http://www.w3.org/1999/xhtml"), ("lang", "en")).Open("head").Line();
        page.Empty("meta", ("charset", "utf-8")).Line();
        page.Empty("meta", ("name", "viewport"), ("content", "width=device-width, initial-scale=1")).Line();
        page.Empty("meta", ("name", "color-scheme"), ("content", "light dark")).Line();
        page.Empty("meta", ("name", "generator"), ("content", $"LaserWatch {report.Version}")).Line();
        page.Element("title", title).Line().Open("style").Line().Written(ReportStyle.Sheet).Line().CloseLine().CloseLine();
        page.Open("body").Line().Element("a", "Skip to the summary", ("class", "skip"), ("href", "#summary")).Line();
        page.Open("header").Line().Paragraph("Evidence report", "kind");
        page.Element("h1", $"Tube {serial ?? "without a stated serial number"}, machine {report.Machine}").Line();
        page.Paragraph($"{Figures.Minute(report.From)} to {Figures.Minute(report.To)} UTC. Made {Figures.Minute(report.MadeAt)} UTC by LaserWatch {report.Version}.", "span").CloseLine();
        page.Open("main").Line();
        SummarySection.Print(page, report);
        Contents(page);
        for (var i = 0; i < Sections.Length; i++)
            Sections[i].Print(page, report, i + 1);
        page.CloseLine().Open("footer").Line();
        page.Paragraph("All times are UTC; dates are year-month-day. Figures are rounded for reading.").CloseLine();
        return page.CloseLine().CloseLine().Finish();
    }

    private static void Contents(Markup page)
    {
        page.Open("nav", ("aria-label", "Contents")).Open("ol").Line();
        for (var i = 0; i < Sections.Length; i++)
            page.Open("li").Open("a", ("href", "#" + Sections[i].Id)).Element("span", $"{i + 1}", ("class", "number")).Text(Sections[i].Title).Close().CloseLine();
        page.Close().CloseLine();
    }
}
