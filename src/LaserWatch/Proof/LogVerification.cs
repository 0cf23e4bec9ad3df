using System.Security.Cryptography.X509Certificates;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Rules;

namespace LaserWatch.Proof;

/// <summary>What a reader asks of the key and of the log's past.</summary>
/// <param name="Key">The fingerprint that the key must have, or its beginning; null: any.</param>
/// <param name="Earlier">The newest head of an earlier file of the same machine, which must be a beginning of this log; null: none.</param>
/// <param name="Authorities">Certificates that may vouch for a time-stamping authority; null: it is not judged.</param>
public sealed record VerificationDemands(string? Key = null, LogHead? Earlier = null, X509Certificate2Collection? Authorities = null)
{
    public static readonly VerificationDemands None = new();
}

/// <summary>Checks heads, signatures, keys, time stamps, and that the log has only grown.</summary>
internal static class LogVerification
{
    public static void Check(LogContent log, VerificationDemands demands, VerificationReport report)
    {
        report.Head = log.Head;
        if (log.Head is not { } newest)
        {
            report.Add(new Finding(null, null, null, FindingKinds.Signature, "the proof has no signed head: nobody vouches for it"));
            return;
        }

        foreach (var (head, line) in log.Heads)
            CheckHead(log, head, line, demands, report);
        if (log.HasStrayStamp)
            report.Add(Of("a time stamp is of a head that does not stand here"));
        if (newest.Size != log.Entries.Count)
            report.Add(Of($"the newest head vouches for {newest.Size} entries of the log, but {log.Entries.Count} are there"));
        if (demands.Key is { } key && !newest.Fingerprint().StartsWith(key, StringComparison.Ordinal))
            report.Add(Of($"it is signed by the key {newest.Fingerprint()}, not by {key}"));
        var keys = log.Heads.Select(head => head.Head.Fingerprint()).Distinct().ToList();
        if (keys.Count > 1)
            report.Notes.Add($"The log was signed by {keys.Count} keys one after another: {string.Join(", ", keys)}.");
        if (demands.Earlier is { } earlier)
            CheckGrowth(log, earlier, report);
    }

    private static void CheckHead(LogContent log, LogHead head, string line, VerificationDemands demands, VerificationReport report)
    {
        if (!head.Holds())
            report.Add(Of($"the signature of the head of {head.At} does not hold"));
        if (head.Size < 1 || head.Size > log.Entries.Count)
            report.Add(Of($"the head of {head.At} vouches for {head.Size} entries of the log, but {log.Entries.Count} are there"));
        else if (log.RootOf(head.Size) != head.Root)
            report.Add(Of($"the log's entries are not those that the head of {head.At} vouches for: an entry was altered, added or taken out"));
        if (log.StampOf(line) is not { } stamp)
            return;
        var finding = LogJson.TryBase64(stamp.Token, out var token)
            ? TimestampCheck.Check(token, Encoding.UTF8.GetBytes(line), demands.Authorities)
            : new TimestampFinding(null, null, null, "it is not in base64");
        if (finding.Wrong is not null)
            report.Add(new Finding(null, null, null, FindingKinds.Signature, $"the time stamp of the head of {head.At} does not hold: {finding.Wrong}"));
        if (finding.At is { } at)
            report.Notes.Add($"All days sealed by {head.At} ({head.Size} entries) were so at {Rfc3339.Format(at)}: {finding}.");
        report.Timestamp = finding;
    }

    private static void CheckGrowth(LogContent log, LogHead earlier, VerificationReport report)
    {
        if (earlier.Machine != log.Machine)
        {
            report.Add(Of($"the earlier file is of the machine {earlier.Machine}, this one of {log.Machine}"));
            return;
        }

        if (earlier.Size > log.Entries.Count)
        {
            report.Add(Of($"the earlier file's log had {earlier.Size} entries, this one has {log.Entries.Count}: entries were taken out, or the file named as the earlier one is the later"));
            return;
        }

        if (log.RootOf(earlier.Size) != earlier.Root)
            report.Add(Of($"the log is not a continuation of that in the earlier file: its first {earlier.Size} entries are others"));
        if (earlier.Fingerprint() != log.Head!.Fingerprint())
            report.Notes.Add($"The earlier file was signed by another key, {earlier.Fingerprint()}.");
    }

    private static Finding Of(string words) => new(null, null, null, FindingKinds.Signature, words);
}
