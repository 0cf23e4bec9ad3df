using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using LaserWatch.Alarms;
using LaserWatch.Proof;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>The same for programs, as one JSON object.</summary>
internal static class VerificationJson
{
    private static readonly JsonSerializerOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static string Write(VerificationReport report)
    {
        var json = new JsonObject
        {
            ["whole"] = report.IsWhole,
            ["proof"] = report.HasProof,
            ["content"] = report.Content,
            ["machine"] = report.Machine,
            ["samples"] = report.Samples,
            ["events"] = report.Events,
            ["days"] = report.Days,
            ["first"] = Text(report.FirstSample),
            ["last"] = Text(report.LastSample),
            ["findings"] = List(report.Findings.Select(Json)),
            ["finding_count"] = report.FindingCount,
            ["not_covered"] = List(report.NotCovered.Select(place => (JsonNode)place)),
            ["notes"] = List(report.Notes.Select(note => (JsonNode)note)),
            ["log"] = report.Head is { } head ? new JsonObject { ["size"] = head.Size, ["root"] = head.Root.ToString(), ["at"] = head.At, ["key"] = report.Fingerprint } : null,
            ["timestamp"] = report.Timestamp is { } stamp ? new JsonObject { ["at"] = Text(stamp.At), ["authority"] = stamp.Authority, ["trusted"] = stamp.Trusted, ["wrong"] = stamp.Wrong } : null,
        };
        return json.ToJsonString(Options);
    }

    private static JsonNode Json(Finding finding) => new JsonObject
    {
        ["day"] = finding.Day?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
        ["minute"] = finding.Minute,
        ["channel"] = finding.Channel,
        ["what"] = finding.What,
        ["first_line"] = finding.FirstLine,
        ["last_line"] = finding.LastLine,
        ["section"] = finding.Section,
        ["words"] = finding.Words,
    };

    private static JsonArray List(IEnumerable<JsonNode> items) => new([.. items]);

    private static string? Text(Instant? at) => at is { } instant ? Rfc3339.Format(instant) : null;
}
