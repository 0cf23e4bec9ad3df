using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;

namespace LaserWatch.Exports;

/// <summary>A flat JSON object for one cell.</summary>
internal static class DetailsJson
{
    // Not for HTML: keep µ, ° and the like readable for who opens the file.
    private static readonly JsonWriterOptions Readable = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Numbers as numbers, all else as text; what is null is left out.</summary>
    public static string Of(params ReadOnlySpan<(string Name, object? Value)> fields)
    {
        using var bytes = new MemoryStream();
        using (var json = new Utf8JsonWriter(bytes, Readable))
        {
            json.WriteStartObject();
            foreach (var (name, value) in fields)
            {
                if (value is double number && double.IsFinite(number))
                    json.WriteNumber(name, number);
                else if (value is not null)
                    json.WriteString(name, value.ToString());
            }

            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(bytes.ToArray());
    }
}
