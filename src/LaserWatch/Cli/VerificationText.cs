using LaserWatch.Alarms;
using LaserWatch.Payloads;
using LaserWatch.Proof;

namespace LaserWatch.Cli;

/// <summary>The outcome of a check of a proof, for a person to read: the verdict first, then what it shows and what not.</summary>
internal static class VerificationText
{
    public static void Print(VerificationReport report, TextWriter output)
    {
        if (!report.HasProof)
        {
            output.WriteLine("NO PROOF. The file carries none: it shows nothing of whether it is as it was stored.");
            return;
        }

        if (report is { IsWhole: true, Made: { } made })
            output.WriteLine($"The page is as it was signed on {Clean(made)}.");
        output.WriteLine(report.IsWhole ? $"WHOLE. {Extent(report)} are as they were sealed." : $"NOT WHOLE. {Count(report.FindingCount, "thing")} not as sealed; the first:");
        foreach (var finding in report.Findings)
            output.WriteLine($"  {finding}");
        if (report.FindingCount > report.Findings.Count)
            output.WriteLine($"  … and {report.FindingCount - report.Findings.Count} more");
        if (report.NotCovered.Count > 0)
            output.WriteLine("Not covered by the proof:");
        foreach (var words in report.NotCovered)
            output.WriteLine($"  {Clean(words)}");
        PrintLog(report, output);
        foreach (var note in report.Notes)
            output.WriteLine(Clean(note));
        PrintMeaning(report, output);
    }

    private static string Extent(VerificationReport report)
    {
        var what = report.Content != ProofContents.Recording ? "All samples of the single minutes that stand here" : "All samples and events of the covered days";
        var span = report.FirstSample is { } first && report.LastSample is { } last ? $", {Rfc3339.Format(first)} to {Rfc3339.Format(last)}" : "";
        return $"{what} ({Clean(report.Machine)}: {Count(report.Samples, "sample")}, {Count(report.Events, "event")}, {Count(report.Days, "sealed day")}{span})";
    }

    private static void PrintLog(VerificationReport report, TextWriter output)
    {
        if (report.Head is not { } head)
            return;
        output.WriteLine($"Log of {Clean(head.Machine)}: {head.Size} entries, root {head.Root}, signed {Clean(head.At)}");
        output.WriteLine($"Key: {report.Fingerprint}");
        if (report.Timestamp is null)
            output.WriteLine("No time-stamping authority vouches for the time: the times of sealing are the machine's own word.");
    }

    private static void PrintMeaning(VerificationReport report, TextWriter output)
    {
        if (!report.IsWhole)
        {
            output.WriteLine("What differs may be a fault of copying as well as intent: ask for the file again, from the store.");
            return;
        }

        output.WriteLine("This shows that whoever holds the key above signed these very values after they came in, and that none was altered, added or");
        output.WriteLine("taken out since within what is covered. It does not show that a sensor told the truth, that it was on this machine, or that the");
        output.WriteLine("key's holder made nothing up before the sealing. Compare the key with the one its owner told you by another way.");
    }

    // Names and times stand in the file as whoever wrote it liked: none may end a line, or move the cursor.
    private static string Clean(string words) => PayloadText.Clean(words, 500);

    private static string Count(long count, string thing) => $"{count} {thing}{(count == 1 ? "" : "s")}";
}
