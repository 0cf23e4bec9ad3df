using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Rehearsal;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>The annotations of a machine, with the alarms that were raised in them: which faults were found, which alarms were false.</summary>
/// <remarks>JSON, one object a line: <c>id, as, from, to, cause, note, by, made, alarms</c> (conditions, each with its count).</remarks>
internal static class AnnotationListing
{
    private static readonly TimeSpan Before = TimeSpan.FromHours(1);
    private static readonly JsonSerializerOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static async Task<int> PrintAsync(
        string machine, Instant from, Instant to, bool json, AnnotationPlace place, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var all = await place.ReadAsync(machine, stop).ConfigureAwait(false);
        List<Annotation> annotations = [.. all.Where(a => a.To > from && a.From < to)];
        var alarms = await AlarmsAsync(machine, place, stop).ConfigureAwait(false);
        if (json)
        {
            foreach (var annotation in annotations)
                await output.WriteLineAsync(Json(annotation, Within(annotation, alarms))).ConfigureAwait(false);
            return (int)ExitCode.Done;
        }

        var listing = new Listing("id", "from", "to", "as", "alarms raised in it", "note", "by");
        foreach (var a in annotations)
        {
            var told = string.Join(", ", Within(a, alarms).Select(pair => pair.Count == 1 ? pair.Condition : string.Create(CultureInfo.InvariantCulture, $"{pair.Condition} x{pair.Count}")));
            listing.Row(a.Id, Rfc3339.Format(a.From), Rfc3339.Format(a.To), a.Words, told.Length == 0 ? "none" : told, a.Note ?? "", a.By ?? "");
        }

        if (listing.IsEmpty)
        {
            await error.WriteLineAsync($"{machine} has no annotations in that time.").ConfigureAwait(false);
            return (int)ExitCode.Done;
        }

        listing.Print(output, output == Console.Out && !Console.IsOutputRedirected);
        await output.WriteLineAsync(AnnotationWords.Of(AnnotationScore.Of(annotations, alarms, Before))).ConfigureAwait(false);
        return (int)ExitCode.Done;
    }

    private static async Task<IReadOnlyList<RaisedAlarm>> AlarmsAsync(string machine, AnnotationPlace place, CancellationToken stop)
    {
        await using var store = StoreAccess.ForReading(place.Store);
        var changes = await store.ReadAlarmChangesAsync(machine, Instant.MinValue, Instant.MaxValue, stop).ConfigureAwait(false);
        var keeping = new AlarmKeeping();
        foreach (var change in changes)
            keeping.Take(change);
        var extent = await store.ReadExtentAsync(machine, stop).ConfigureAwait(false);
        return keeping.Until(extent?.Last ?? Instant.MinValue);
    }

    private static List<(string Condition, int Count)> Within(Annotation annotation, IReadOnlyList<RaisedAlarm> alarms) =>
        [.. alarms.Where(a => annotation.Covers(a.Raised)).GroupBy(a => a.Condition).OrderBy(g => g.Key, StringComparer.Ordinal).Select(g => (g.Key, g.Count()))];

    private static string Json(Annotation a, List<(string Condition, int Count)> alarms)
    {
        var json = new JsonObject
        {
            ["id"] = a.Id,
            ["as"] = Annotation.NameOf(a.Kind),
            ["from"] = Rfc3339.Format(a.From),
            ["to"] = Rfc3339.Format(a.To),
            ["cause"] = a.Cause,
            ["note"] = a.Note,
            ["by"] = a.By,
            ["made"] = a.Made is { } made ? Rfc3339.Format(made) : null,
            ["alarms"] = new JsonObject(alarms.Select(pair => KeyValuePair.Create<string, JsonNode?>(pair.Condition, pair.Count))),
        };
        return json.ToJsonString(Options);
    }
}
