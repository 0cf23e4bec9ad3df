using LaserWatch.History;
using LaserWatch.Trends;

namespace LaserWatch.Reports.Sections;

/// <summary>The course of the tube's current: figures, projection, and the method in plain words.</summary>
internal static class CurrentSection
{
    public static void Print(Markup page, EvidenceReport report)
    {
        if (report.Current is not { } trend)
        {
            page.Paragraph("No steady current with the beam on is stored for this tube, so there is no trend. It needs the channels tube_current and power, and beam of some minutes at one power of 30 % or more.");
            return;
        }

        var figures = new ReportTable("current-table", "Course of the tube current", ("Quantity", Cells.Heading), ("Estimate", Cells.Figures), ($"{Figures.Percent(trend.Confidence, 0)} interval", Cells.Figures));
        if (trend.Now is { } now)
            figures.Add("Ratio to the baseline at the last day", Figures.Percent(now.Value), Interval(now.Low * 100, now.High * 100, 1, "%"));
        if (trend.PerMonth is { } month)
            figures.Add("Change a month of 30.4 days", Figures.WithUnit(month.Value * 100, 2, "%"), Interval(month.Low * 100, month.High * 100, 2, "%"));
        if (trend.BaselineMilliamps is { } baseline)
            figures.Add(trend.Power is { } power ? $"Baseline at {Figures.WithUnit(power, 0, "%")} of power" : "Baseline", Figures.WithUnit(baseline, 2, "mA"), "");
        if (trend.Change is { Kind: ChangeKind.Step or ChangeKind.Ramp } change)
        {
            figures.Add(
                change.Kind == ChangeKind.Step ? "Change at once, when" : "Slow change, since", Figures.Date(ChannelTrend.FromDays(change.BeganDays)),
                $"{Figures.Date(ChannelTrend.FromDays(change.BeganFromDays))} to {Figures.Date(ChannelTrend.FromDays(change.BeganToDays))}");
            figures.Add("Size of that change", Figures.Percent(change.Fall), $"± {Figures.WithUnit(change.FallError * 100, 1, "%")} (standard error)");
        }

        figures.Add("Days with an estimate", Figures.Count(trend.Days.Count), "");
        if (figures.Rows > 1)
            figures.Print(page);
        Words(page, trend);
        page.Element("h3", "How it was found").Line().Open("ul", ("class", "plain")).Line();
        foreach (var sentence in trend.Method)
            page.Element("li", IdentitySection.Sentence(sentence)).Line();
        page.CloseLine();
        if (trend.Cautions.Count == 0)
            return;
        page.Element("h3", "To be minded before it is trusted").Line().Open("ul", ("class", "plain")).Line();
        foreach (var sentence in trend.Cautions)
            page.Element("li", IdentitySection.Sentence(sentence)).Line();
        page.CloseLine();
    }

    private static void Words(Markup page, ChannelTrend trend)
    {
        if (trend.Refusal is { } refusal)
            page.Paragraph($"There is no line through the estimates: {refusal}.");
        if (trend.Change is { Kind: not ChangeKind.Unknown } change)
        {
            page.Paragraph(
                $"Three explanations were weighed against each other: no change {Figures.Percent(change.None, 0)}, a change at once {Figures.Percent(change.Step, 0)}, "
                + $"a slow change {Figures.Percent(change.Ramp, 0)}.");
        }

        var projection = trend.Projection;
        var threshold = projection.Threshold is { } level ? $"{level.Name} ({Figures.Percent(level.Value, 0)} of the baseline)" : "its threshold";
        if (projection.Passed)
            page.Paragraph($"The line is at or beyond {threshold} already.");
        else if (projection.Refusal is { } why)
            page.Paragraph($"There is no projection to {threshold}: {why}.");
        else if (projection.Earliest is { } earliest)
        {
            page.Paragraph(
                $"If it goes on so, {threshold} is reached between {Figures.Date(earliest)} and {(projection.Latest is { } latest ? Figures.Date(latest) : "a time too far off to be said")} "
                + $"({Figures.Percent(trend.Confidence, 0)} prediction interval){(projection.Median is { } median ? $", as likely before as after {Figures.Date(median)}" : "")}. A projection is no promise: it holds while the tube goes on as it has.");
        }
    }

    private static string Interval(double low, double high, int decimals, string unit) =>
        $"{Figures.Number(low, decimals)} to {Figures.WithUnit(high, decimals, unit)}";
}
