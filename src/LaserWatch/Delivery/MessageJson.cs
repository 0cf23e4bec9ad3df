using System.Buffers;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;

namespace LaserWatch.Delivery;

/// <summary>A message as JSON: for one alarm its JSON with some members more; for several, an object with the list of them.</summary>
internal static class MessageJson
{
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static byte[] ToUtf8(AlarmMessage message)
    {
        var bytes = new ArrayBufferWriter<byte>(1024);
        using (var json = new Utf8JsonWriter(bytes, Options))
        {
            if (message.Entries is [var only] && message.Cause != MessageCause.Gathered)
                WriteAlarm(json, only, () => WriteAbout(json, message));
            else
                WriteSeveral(json, message);
        }

        return bytes.WrittenSpan.ToArray();
    }

    private static void WriteSeveral(Utf8JsonWriter json, AlarmMessage message)
    {
        json.WriteStartObject();
        WriteAbout(json, message);
        json.WriteStartArray("alarms");
        foreach (var entry in message.Entries)
            WriteAlarm(json, entry, () => { });
        json.WriteEndArray();
        json.WriteEndObject();
    }

    private static void WriteAbout(Utf8JsonWriter json, AlarmMessage message)
    {
        json.WriteString("message_id", message.Id);
        json.WriteString("cause", message.Cause switch
        {
            MessageCause.News => "news",
            MessageCause.Gathered => "gathered",
            MessageCause.Unanswered => "unanswered",
            _ => "test",
        });
        json.WriteBoolean("late", message.IsLate);
        if (message.After is { } after)
            json.WriteNumber("unacknowledged_minutes", after.TotalMinutes);
    }

    private static void WriteAlarm(Utf8JsonWriter json, AlarmEntry entry, Action writeMore)
    {
        json.WriteStartObject();
        using (var alarm = JsonDocument.Parse(AlarmJson.ToUtf8(entry.Change)))
        {
            foreach (var member in alarm.RootElement.EnumerateObject())
                member.WriteTo(json);
        }

        json.WriteString("id", entry.Change.Id());
        if (entry.Raised is { } raised)
            json.WriteString("raised", Rfc3339.Format(raised.Time));
        if (entry.Overtaken.Count > 0)
        {
            json.WriteStartArray("overtaken");
            foreach (var id in entry.Overtaken)
                json.WriteStringValue(id);
            json.WriteEndArray();
        }

        writeMore();
        json.WriteEndObject();
    }
}
