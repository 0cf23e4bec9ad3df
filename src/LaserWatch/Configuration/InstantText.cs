using System.Globalization;
using System.Text.Json;
using System.Text.Json.Serialization;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>A time in a configuration file: an RFC 3339 time with its offset, or a date alone, which is its midnight in UTC.</summary>
/// <remarks>The base library's own reading takes a time without an offset as local; a file that moves to another machine must not change its meaning.</remarks>
internal sealed class InstantText : JsonConverter<Instant>
{
    /// <summary>The same rule for editors, which cannot check the calendar.</summary>
    public const string Pattern =
        "^[0-9]{4}-[0-9]{2}-[0-9]{2}([Tt][0-9]{2}:[0-9]{2}:[0-9]{2}(\\.[0-9]{1,7})?([Zz]|[+-][0-9]{2}:[0-9]{2}))?$";

    private static readonly string[] Times =
        ["yyyy-MM-dd'T'HH:mm:ss.FFFFFFF'Z'", "yyyy-MM-dd'T'HH:mm:ss.FFFFFFFzzz", "yyyy-MM-dd'T'HH:mm:ss'Z'", "yyyy-MM-dd'T'HH:mm:sszzz"];

    public static bool TryParse(string text, out Instant instant)
    {
        instant = default;
        if (DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var date))
        {
            instant = Instant.From(new DateTimeOffset(date, TimeOnly.MinValue, TimeSpan.Zero));
            return date.Year is >= 1900 and <= 2200;
        }

        if (!DateTimeOffset.TryParseExact(
                text.ToUpperInvariant(), Times, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out var time)
            || time.Year is < 1900 or > 2200)
            return false;
        instant = Instant.From(time);
        return true;
    }

    public override Instant Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        reader.TokenType == JsonTokenType.String && TryParse(reader.GetString()!, out var instant) ? instant : throw new JsonException();

    public override void Write(Utf8JsonWriter writer, Instant value, JsonSerializerOptions options) => writer.WriteStringValue(value.ToString());
}
