using System.Text.Json;
using System.Text.Json.Serialization;
using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>A time in a configuration file: an RFC 3339 time with its offset, or a date alone, which is its midnight in UTC.</summary>
/// <remarks>The base library's own reading takes a time without an offset as local; a file that moves to another machine must not change its meaning.</remarks>
internal sealed class InstantText : JsonConverter<Instant>
{
    /// <summary>The same rule for editors, which cannot check the calendar.</summary>
    public const string Pattern =
        "^[0-9]{4}-[0-9]{2}-[0-9]{2}([Tt ][0-9]{2}:[0-9]{2}:[0-9]{2}(\\.[0-9]+)?([Zz]|[+-][0-9]{2}:[0-9]{2}))?$";

    private const int DateOnlyLength = 10;

    public static bool TryParse(string text, out Instant instant) =>
        Rfc3339.TryParse(text.Length == DateOnlyLength ? text + "T00:00:00Z" : text, out instant);

    public override Instant Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        reader.TokenType == JsonTokenType.String && TryParse(reader.GetString()!, out var instant) ? instant : throw new JsonException();

    public override void Write(Utf8JsonWriter writer, Instant value, JsonSerializerOptions options) => writer.WriteStringValue(Rfc3339.Format(value));
}
