using System.Text;
using LaserWatch.Rules;

namespace LaserWatch.Proof;

/// <summary>Checks a report: the seal over its page, and the raw samples of its annex against the log.</summary>
internal static class ReportVerifier
{
    private const string Content = "report";

    /// <summary>True where a file begins as a page does and no recording can.</summary>
    public static bool IsPage(ReadOnlySpan<byte> start)
    {
        if (start.StartsWith("\uFEFF"u8))
            start = start["\uFEFF"u8.Length..];
        return start.TrimStart(" \t\r\n"u8).StartsWith("<"u8);
    }

    public static VerificationReport Verify(byte[] page, VerificationDemands demands)
    {
        var annex = Between(page, DocumentSeal.AnnexOpen, 0);
        var report = annex is { } lines
            ? RecordingVerifier.Verify(() => new MemoryStream(page, lines.Start, lines.Length, writable: false), demands)
            : new VerificationReport();
        report.Content = Content;
        if (annex is { } place)
            report.MoveLines(page.AsSpan(0, place.Start).Count((byte)'\n'), "annex");
        CheckSeal(page, demands, report);
        return report;
    }

    public static LogHead? HeadOf(byte[] page) =>
        Between(page, DocumentSeal.AnnexOpen, 0) is { } lines ? RecordingVerifier.HeadOf(() => new MemoryStream(page, lines.Start, lines.Length, writable: false)) : null;

    private static void CheckSeal(byte[] page, VerificationDemands demands, VerificationReport report)
    {
        if (Between(page, DocumentSeal.SealOpen, 0) is not { } place)
        {
            // A page without proof and seal is just that; one that has lost its seal is not as it was made.
            if (report.HasProof)
                report.Add(new Finding(null, null, null, FindingKinds.Signature, "the page carries no seal: it was never signed, or the seal was taken out"));
            return;
        }

        report.HasProof = true;
        if (!LogJson.TryRead<PageSeal>(page.AsSpan(place.Start, place.Length), out var seal) || Between(page, DocumentSeal.SealOpen, place.Start) is not null)
        {
            report.Add(new Finding(null, null, null, FindingKinds.Proof, "the page's seal cannot be read, or stands there twice"));
            return;
        }

        if (!seal.Holds())
            report.Add(new Finding(null, null, null, FindingKinds.Signature, "the signature of the page's seal does not hold"));
        var fingerprint = LogJson.TryBase64(seal.Key, out var key) ? SigningKey.FingerprintOf(key) : "";
        if (report.Head is { } head && head.Key != seal.Key)
            report.Add(new Finding(null, null, null, FindingKinds.Signature, $"the page was signed by another key ({fingerprint}) than its log"));
        if (report.Head is null && demands.Key is { } wanted && !fingerprint.StartsWith(wanted, StringComparison.Ordinal))
            report.Add(new Finding(null, null, null, FindingKinds.Signature, $"the page was signed by the key {fingerprint}, not by the one asked for"));
        if (report.Head is null)
            report.Add(new Finding(null, null, null, FindingKinds.Missing, "the annex with the log was taken out of the page"));
        else if (report.Machine != seal.Machine)
            report.Add(new Finding(null, null, null, FindingKinds.Proof, $"the seal is of the machine {seal.Machine}, the annex of {report.Machine}"));
        ComparePage(page, place, seal, report);
        report.Made = seal.Made;
    }

    private static void ComparePage(byte[] page, (int Start, int Length) place, PageSeal seal, VerificationReport report)
    {
        byte[] empty = [.. page.AsSpan(0, place.Start), .. page.AsSpan(place.Start + place.Length)];
        var now = PageSections.Hash(empty);
        if (Digest.Of(empty) == seal.Page)
        {
            // Signed in the order of their names; another order in the seal is a change all the same.
            if (!seal.Sections.Keys.SequenceEqual(now.Keys))
                report.Add(new Finding(null, null, null, FindingKinds.Altered, "the seal does not list the sections in the order of the page"));
            return;
        }

        var told = report.FindingCount;
        foreach (var (id, hash) in seal.Sections)
        {
            if (!now.TryGetValue(id, out var found))
                report.Add(new Finding(null, null, null, FindingKinds.Missing, "the section was taken out", Section: id));
            else if (found != hash)
                report.Add(new Finding(null, null, null, FindingKinds.Altered, "the section is not as it was signed", Section: id));
        }

        foreach (var id in now.Keys.Except(seal.Sections.Keys))
            report.Add(new Finding(null, null, null, FindingKinds.Added, "the section was added", Section: id));
        if (report.FindingCount == told)
            report.Add(new Finding(null, null, null, FindingKinds.Altered, "the page is not as it was signed; the change lies outside its sections: in its head, its annex, or the text between"));
    }

    /// <summary>What stands between an opening text, at or after a place, and the next closing tag.</summary>
    private static (int Start, int Length)? Between(byte[] page, string open, int from)
    {
        var opening = Encoding.UTF8.GetBytes(open);
        var begin = page.AsSpan(from).IndexOf(opening);
        if (begin < 0)
            return null;
        var start = from + begin + opening.Length;
        var length = page.AsSpan(start).IndexOf(Encoding.UTF8.GetBytes(DocumentSeal.Close));
        return length < 0 ? null : (start, length);
    }
}
