using System.Globalization;

namespace LaserWatch.Reports.Sections;

/// <summary>What stands behind the figures, and how to check that nothing of it was changed since.</summary>
internal static class ProofSection
{
    private const int MostListed = 20;

    public static void Print(Markup page, EvidenceReport report)
    {
        if (report.Integrity is not { LogEntries: > 0 } facts)
        {
            page.Paragraph("The data behind this report were not sealed: nothing shows that they are as they came in, and the page carries no signature.");
            return;
        }

        page.Paragraph(
            $"Each UTC day of the machine was sealed once it was over: a hash over all its samples and events went into a log that only grows, and the log is signed with the agent’s own key. "
            + $"{Figures.Counted(facts.SealedDays, "day")} of the time reported on {(facts.SealedDays == 1 ? "is" : "are")} sealed"
            + (facts is { FirstSealed: { } first, LastSealed: { } last } ? $", from {Date(first)} to {Date(last)}" : "")
            + (facts.UnsealedDays > 0 ? $"; {Figures.Counted(facts.UnsealedDays, "day")} with an estimate of the current {(facts.UnsealedDays == 1 ? "is" : "are")} not, or not yet." : "."));
        Revisions(page, facts);
        if (facts.Differing.Count > 0)
            page.Paragraph($"The store no longer holds these days as they were sealed: {string.Join(", ", facts.Differing.Select(Date))}. What was drawn from them is in doubt.", "out");
        page.Paragraph(Annex(facts));
        Signature(page, facts);
        Meaning(page);
    }

    private static string Annex(IntegrityFacts facts) => facts.AnnexDays.Count == 0
        ? "The page holds no raw samples."
        : $"The page holds one whole minute of raw samples of every channel for each of {Figures.Counted(facts.AnnexDays.Count, "day")}, spread over the time and the first and last among them: the middle one of the day’s minutes at its commonest power. "
        + "Each is proven to be part of its sealed day. The whole of the data is had by “laserwatch record”, which carries the proof of every day.";

    private static void Signature(Markup page, IntegrityFacts facts) => ReportTable.PrintFacts(page, "proof-table", "What was signed, and by whom", [
        ("Log", $"{Figures.Counted(facts.LogEntries, "entry", "entries")}, signed {facts.SignedAt ?? "never"}"),
        ("Root of the log (SHA-256)", facts.Root ?? "none"),
        ("Fingerprint of the key (SHA-256)", facts.Fingerprint ?? "none"),
        ("Time-stamping authority", facts.StampedAt is { } at ? $"says the log’s root existed at {at}" : "none was asked, or none answered: the times of sealing are the agent’s own word"),
        ("This page", facts.NotSigned is { } why ? $"not signed: {why}" : "signed as a whole with the same key; so a change of a single character shows"),
    ]);

    private static void Meaning(Markup page) => page.Paragraph(
        "To check: “laserwatch verify” with this file, kept just as it was sent (a program that changes line ends or spaces changes the file). It shows that the holder of the key signed these values after they came in, and that "
        + "nothing was altered, added or taken out since. It does not show that a sensor told the truth, that it sat on this machine, or that the key’s holder made nothing up before the sealing. "
        + "Compare the fingerprint with the one that the shop tells you by another way.");

    private static void Revisions(Markup page, IntegrityFacts facts)
    {
        if (facts.Revised.Count == 0)
        {
            page.Paragraph("No day was sealed a second time.");
            return;
        }

        var table = new ReportTable(
            "revised-table",
            facts.Revised.Count > MostListed ? $"The latest {Figures.Count(MostListed)} of {Figures.Count(facts.Revised.Count)} days that were sealed again" : "Days that were sealed again",
            ("Day (UTC)", Cells.Time), ("Revision", Cells.Figures), ("Why", Cells.Words));
        foreach (var day in facts.Revised.TakeLast(MostListed))
            table.Add(Date(day.Day), Figures.Count(day.Revision), day.Why);
        table.Print(page);
    }

    private static string Date(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}
