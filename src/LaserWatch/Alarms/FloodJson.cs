using System.Buffers;
using System.Text.Encodings.Web;
using System.Text.Json;

namespace LaserWatch.Alarms;

/// <summary>Whether alarms come in a flood, as one JSON object: since when, what several machines point to, root causes first.</summary>
public static class FloodJson
{
    /// <summary>A flood of a large shop would make a message too long for small displays; the alarm topics hold every one.</summary>
    public const int MostAlarms = 50;

    // As in AlarmJson.
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static byte[] Of(FloodWatch watch, IReadOnlyList<CommonCause> causes)
    {
        var bytes = new ArrayBufferWriter<byte>(512);
        using (var json = new Utf8JsonWriter(bytes, Options))
        {
            json.WriteStartObject();
            json.WriteBoolean("flood", watch.InFlood);
            if (watch.Since is { } since)
                json.WriteString("since", Rfc3339.Format(since));
            else
                json.WriteNull("since");
            json.WriteNumber("annunciations", watch.Annunciations);
            json.WriteStartArray("common_causes");
            foreach (var cause in causes)
                json.WriteStringValue(cause.What);
            json.WriteEndArray();
            json.WriteStartArray("roots_first");
            foreach (var alarm in watch.Alarms.Take(MostAlarms))
                Write(json, alarm);
            json.WriteEndArray();
            json.WriteEndObject();
        }

        return bytes.WrittenSpan.ToArray();
    }

    private static void Write(Utf8JsonWriter json, PlacedAlarm alarm)
    {
        json.WriteStartObject();
        json.WriteString("time", Rfc3339.Format(alarm.Change.Time));
        json.WriteString("machine", alarm.Change.Machine);
        json.WriteString("condition", alarm.Change.Condition);
        json.WriteString("priority", alarm.Change.Priority.Name());
        json.WriteString("explained_by", alarm.Cause?.Condition);
        json.WriteEndObject();
    }
}
