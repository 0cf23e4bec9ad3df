using System.Buffers;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Payloads;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>An alarm's transition as one JSON object, as config/interface.md has it: in MQTT, in NDJSON, in the store.</summary>
/// <remarks>
/// Members stand in that page's order; what is not known is <c>null</c>. <c>by</c> follows where a person did it.
/// A new member of <see cref="AlarmChange"/> needs a line in <see cref="Write"/> and one in <see cref="TryRead"/>.
/// </remarks>
public static class AlarmJson
{
    // The text goes to consoles, files and brokers, never into a page as it is: degree signs and quotes stay readable.
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>One line of UTF-8, without a line end.</summary>
    public static byte[] ToUtf8(AlarmChange change)
    {
        var bytes = new ArrayBufferWriter<byte>(512);
        using (var json = new Utf8JsonWriter(bytes, Options))
            Write(json, change);
        return bytes.WrittenSpan.ToArray();
    }

    public static void Write(Utf8JsonWriter json, AlarmChange change)
    {
        json.WriteStartObject();
        json.WriteString("time", Rfc3339.Format(change.Time));
        json.WriteString("machine", change.Machine);
        json.WriteString("condition", change.Condition);
        json.WriteString("state", change.State.Name());
        json.WriteString("priority", change.Priority.Name());
        WriteNumber(json, "value", change.Value);
        WriteNumber(json, "limit", change.Limit);
        json.WriteString("unit", change.Unit);
        json.WriteString("job", change.Job);
        json.WriteString("message", change.Message);
        json.WritePropertyName("evidence");
        WriteEvidence(json, change.Evidence);
        json.WritePropertyName("checks");
        WriteChecks(json, change.Checks);
        if (change.By is not null)
            json.WriteString("by", change.By);
        json.WriteEndObject();
    }

    /// <summary>The evidence alone, as a JSON object of numbers and texts.</summary>
    public static string EvidenceText(IReadOnlyList<Evidence> evidence) => Text(json => WriteEvidence(json, evidence));

    /// <summary>The checks alone, as a JSON array of texts.</summary>
    public static string ChecksText(IReadOnlyList<string> checks) => Text(json => WriteChecks(json, checks));

    /// <summary>Reads what <see cref="ToUtf8"/> wrote; members it does not know are passed over.</summary>
    /// <param name="mistake">What is wrong, in words; null where nothing is.</param>
    public static bool TryRead(ReadOnlySpan<byte> utf8, out AlarmChange? change, out string? mistake)
    {
        try
        {
            return TryReadJson(utf8, out change, out mistake);
        }
        catch (InvalidOperationException)
        {
            // The reader looks at texts only when asked for them: JSON by its grammar, but no text.
            change = null;
            mistake = "a text in it is not UTF-8, or a \\u escape is half a character";
            return false;
        }
    }

    private static bool TryReadJson(ReadOnlySpan<byte> utf8, out AlarmChange? change, out string? mistake)
    {
        change = null;
        JsonElement root;
        try
        {
            var reader = new Utf8JsonReader(utf8);
            root = JsonElement.ParseValue(ref reader);
        }
        catch (JsonException e)
        {
            mistake = "not JSON: " + PayloadText.Clean(e.Message, 300);
            return false;
        }

        if (root.ValueKind != JsonValueKind.Object)
        {
            mistake = "not a JSON object";
            return false;
        }

        AlarmState state = default;
        AlarmPriority priority = default;
        mistake =
            !Rfc3339.TryParse(TextOf(root, "time"), out var time) ? "\"time\" is not a time as RFC 3339 has it"
            : TextOf(root, "machine") is not { Length: > 0 } ? "\"machine\" is missing"
            : TextOf(root, "condition") is not { Length: > 0 } ? "\"condition\" is missing"
            : !AlarmNames.TryParse(TextOf(root, "state") ?? "", out state) ? "\"state\" is not a state of an alarm"
            : !AlarmNames.TryParse(TextOf(root, "priority") ?? "", out priority) ? "\"priority\" is not low, medium, high or urgent"
            : null;
        if (mistake is not null)
            return false;

        var evidence = new List<Evidence>();
        var checks = new List<string>();
        if ((root.TryGetProperty("evidence", out var told) && !TryReadEvidence(told, evidence))
            || (root.TryGetProperty("checks", out told) && !TryReadChecks(told, checks)))
        {
            mistake = "\"evidence\" is not an object of numbers and texts, or \"checks\" is not a list of texts";
            return false;
        }

        change = new AlarmChange(
            time, TextOf(root, "machine")!, TextOf(root, "condition")!, state, priority, NumberOf(root, "value"), NumberOf(root, "limit"),
            TextOf(root, "unit") ?? "", TextOf(root, "job"), TextOf(root, "message") ?? "", evidence, checks, TextOf(root, "by"));
        return true;
    }

    public static bool TryReadEvidence(string text, List<Evidence> into) => TryParse(text, e => TryReadEvidence(e, into));

    public static bool TryReadChecks(string text, List<string> into) => TryParse(text, e => TryReadChecks(e, into));

    private static bool TryReadEvidence(JsonElement element, List<Evidence> into)
    {
        if (element.ValueKind != JsonValueKind.Object)
            return element.ValueKind == JsonValueKind.Null;
        foreach (var member in element.EnumerateObject())
        {
            if (member.Value.ValueKind == JsonValueKind.Number && member.Value.TryGetDouble(out var number))
                into.Add(new Evidence(member.Name, number));
            else if (member.Value.ValueKind is JsonValueKind.String or JsonValueKind.Null)
                into.Add(new Evidence(member.Name, null, member.Value.GetString()));
            else
                return false;
        }

        return true;
    }

    private static bool TryReadChecks(JsonElement element, List<string> into)
    {
        if (element.ValueKind != JsonValueKind.Array)
            return element.ValueKind == JsonValueKind.Null;
        foreach (var check in element.EnumerateArray())
        {
            if (check.ValueKind != JsonValueKind.String)
                return false;
            into.Add(check.GetString()!);
        }

        return true;
    }

    private static bool TryParse(string text, Func<JsonElement, bool> read)
    {
        try
        {
            using var document = JsonDocument.Parse(text);
            return read(document.RootElement);
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException) // the latter of half a character
        {
            return false;
        }
    }

    private static string? TextOf(JsonElement root, string name) =>
        root.TryGetProperty(name, out var member) && member.ValueKind == JsonValueKind.String ? member.GetString() : null;

    private static double? NumberOf(JsonElement root, string name) =>
        root.TryGetProperty(name, out var member) && member.ValueKind == JsonValueKind.Number && member.TryGetDouble(out var number)
            ? number
            : null;

    private static void WriteEvidence(Utf8JsonWriter json, IReadOnlyList<Evidence> evidence)
    {
        json.WriteStartObject();
        foreach (var item in evidence)
        {
            if (item.Number is { } number)
                WriteNumber(json, item.Name, number);
            else
                json.WriteString(item.Name, item.Text);
        }

        json.WriteEndObject();
    }

    private static void WriteChecks(Utf8JsonWriter json, IReadOnlyList<string> checks)
    {
        json.WriteStartArray();
        foreach (var check in checks)
            json.WriteStringValue(check);
        json.WriteEndArray();
    }

    // JSON has no NaN and no infinity; a computed limit can be one ("never"), and then there is no number to tell.
    private static void WriteNumber(Utf8JsonWriter json, string name, double? value)
    {
        if (value is { } number && double.IsFinite(number))
            json.WriteNumber(name, number);
        else
            json.WriteNull(name);
    }

    private static string Text(Action<Utf8JsonWriter> write)
    {
        var bytes = new ArrayBufferWriter<byte>(256);
        using (var json = new Utf8JsonWriter(bytes, Options))
            write(json);
        return System.Text.Encoding.UTF8.GetString(bytes.WrittenSpan);
    }
}
