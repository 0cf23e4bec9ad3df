namespace LaserWatch.Reports.Sections;

/// <summary>One numbered section of the report.</summary>
/// <param name="Id">Its place to link to.</param>
internal sealed record Section(string Id, string Title, Action<Markup, EvidenceReport> Content)
{
    public void Print(Markup page, EvidenceReport report, int number)
    {
        page.Open("section", ("id", Id), ("aria-labelledby", Id + "-title"));
        page.Open("h2", ("id", Id + "-title")).Element("span", $"{number}", ("class", "number")).Text(Title).CloseLine();
        Content(page, report);
        page.CloseLine();
    }
}
