using System.Buffers;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The lists inside alarms and service events, as the JSON text of one column.</summary>
/// <remarks>Evidence is <c>[{"name":"limit","number":189},{"name":"job","text":"birch-6-cut"}]</c>. What is not finite is <c>"NaN"</c>, <c>"Infinity"</c> or <c>"-Infinity"</c>.</remarks>
internal static class EventJson
{
    // Not for HTML: keep µ, ° and the like readable for who opens the file.
    private static readonly JsonWriterOptions Readable = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static string Write(IReadOnlyList<Evidence> evidence) => Write(json =>
    {
        json.WriteStartArray();
        foreach (var (name, number, text) in evidence)
        {
            json.WriteStartObject();
            json.WriteString("name", name);
            if (number is { } value)
            {
                if (double.IsFinite(value))
                    json.WriteNumber("number", value);
                else
                    json.WriteString("number", double.IsNaN(value) ? "NaN" : value > 0 ? "Infinity" : "-Infinity");
            }

            if (text is not null)
                json.WriteString("text", text);
            json.WriteEndObject();
        }

        json.WriteEndArray();
    });

    public static IReadOnlyList<Evidence> ReadEvidence(string column)
    {
        using var json = JsonDocument.Parse(column);
        return [.. json.RootElement.EnumerateArray().Select(entry => new Evidence(
            entry.GetProperty("name").GetString()!,
            entry.TryGetProperty("number", out var number) ? ReadNumber(number) : null,
            entry.TryGetProperty("text", out var text) ? text.GetString() : null))];
    }

    public static string Write(IReadOnlyList<string> texts) => Write(json =>
    {
        json.WriteStartArray();
        foreach (var text in texts)
            json.WriteStringValue(text);
        json.WriteEndArray();
    });

    public static IReadOnlyList<string> ReadTexts(string column)
    {
        using var json = JsonDocument.Parse(column);
        return [.. json.RootElement.EnumerateArray().Select(entry => entry.GetString()!)];
    }

    public static string Write(IReadOnlyDictionary<string, string> details) => Write(json =>
    {
        json.WriteStartObject();
        foreach (var (name, value) in details)
            json.WriteString(name, value);
        json.WriteEndObject();
    });

    public static IReadOnlyDictionary<string, string> ReadDetails(string column)
    {
        using var json = JsonDocument.Parse(column);
        return json.RootElement.EnumerateObject().ToDictionary(field => field.Name, field => field.Value.GetString()!);
    }

    private static double ReadNumber(JsonElement number) =>
        number.ValueKind == JsonValueKind.Number ? number.GetDouble()
        : number.GetString() switch
        {
            "Infinity" => double.PositiveInfinity,
            "-Infinity" => double.NegativeInfinity,
            _ => double.NaN,
        };

    private static string Write(Action<Utf8JsonWriter> content)
    {
        var buffer = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(buffer, Readable))
            content(json);
        return Encoding.UTF8.GetString(buffer.WrittenSpan);
    }
}
