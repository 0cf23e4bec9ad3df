using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;
using LaserWatch.Alarms;
using LaserWatch.Proof;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>The same for programs, as one JSON object.</summary>
internal static class VerificationJson
{
    private static readonly JsonSerializerOptions Options = new()
    {
        PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
        DefaultIgnoreCondition = JsonIgnoreCondition.Never,
    };

    public static string Write(VerificationReport report) => JsonSerializer.Serialize(
        new
        {
            whole = report.IsWhole,
            proof = report.HasProof,
            content = report.Content,
            machine = report.Machine,
            samples = report.Samples,
            events = report.Events,
            days = report.Days,
            first = Text(report.FirstSample),
            last = Text(report.LastSample),
            findings = report.Findings.Select(finding => new
            {
                day = finding.Day,
                minute = finding.Minute,
                channel = finding.Channel,
                what = finding.What,
                firstLine = finding.FirstLine,
                lastLine = finding.LastLine,
                section = finding.Section,
                words = finding.Words,
            }),
            findingCount = report.FindingCount,
            notCovered = report.NotCovered,
            notes = report.Notes,
            log = report.Head is { } head ? new { size = head.Size, root = head.Root.ToString(), at = head.At, key = report.Fingerprint } : null,
            timestamp = report.Timestamp is { } stamp ? new { at = Text(stamp.At), authority = stamp.Authority, trusted = stamp.Trusted, wrong = stamp.Wrong } : null,
        },
        Options);

    private static string? Text(Instant? at) => at is { } instant ? Rfc3339.Format(instant) : null;
}
