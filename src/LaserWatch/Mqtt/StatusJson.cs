using System.Buffers;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Mqtt;

/// <summary>A machine's status as one JSON object: what each rule sees and lacks, last sample times, what was not taken.</summary>
internal static class StatusJson
{
    // The text goes to brokers and consoles, never into a page as it is: degree signs stay readable.
    private static readonly JsonWriterOptions Readable = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Writes it without the closing time, which differs each time, and without the end.</summary>
    /// <param name="to">Gets this after what it has.</param>
    /// <param name="rejected">Messages that were not taken, by reason.</param>
    /// <param name="dropped">QoS 0 messages, of all machines, that the agent was too busy to take.</param>
    public static void Write(ArrayBufferWriter<byte> to, MachineStatus status, IReadOnlyDictionary<string, long> rejected, long dropped)
    {
        using var json = new Utf8JsonWriter(to, Readable);
        json.WriteStartObject();
        json.WriteString("state", "online");
        json.WriteString("machine", status.Machine);
        json.WriteString("job", status.Job);
        if (status.RunSince is { } since)
            json.WriteString("run_since", Rfc3339.Format(since));
        else
            json.WriteNull("run_since");

        json.WriteStartObject("channels");
        foreach (var channel in status.Channels)
        {
            json.WriteStartObject(channel.Channel);
            json.WriteNumber("value", channel.LastValue);
            json.WriteString("unit", channel.Unit);
            json.WriteString("time", Rfc3339.Format(channel.LastAt));
            if (channel.Fault is not null)
                json.WriteString("fault", channel.Fault);
            json.WriteEndObject();
        }

        json.WriteEndObject();
        json.WriteStartArray("rules");
        foreach (var rule in status.Rules)
        {
            json.WriteStartObject();
            json.WriteString("rule", rule.Rule);
            WriteTexts(json, "sees", rule.Sees);
            WriteTexts(json, "lacks", rule.Lacks);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        WriteCounts(json, "not_judged", status.NotJudged);
        WriteCounts(json, "not_taken", rejected);
        json.WriteNumber("dropped", dropped);
    }

    /// <summary>Writes the time and the end.</summary>
    public static void WriteEnd(ArrayBufferWriter<byte> to, Instant now)
    {
        to.Write(",\"time\":\""u8);
        to.Advance(Encoding.ASCII.GetBytes(Rfc3339.Format(now), to.GetSpan(40)));
        to.Write("\"}"u8);
    }

    private static void WriteTexts(Utf8JsonWriter json, string name, IReadOnlyList<string> texts)
    {
        json.WriteStartArray(name);
        foreach (var text in texts)
            json.WriteStringValue(text);
        json.WriteEndArray();
    }

    private static void WriteCounts(Utf8JsonWriter json, string name, IReadOnlyDictionary<string, long> counts)
    {
        json.WriteStartObject(name);
        foreach (var (reason, count) in counts.OrderBy(c => c.Key, StringComparer.Ordinal))
            json.WriteNumber(reason, count);
        json.WriteEndObject();
    }
}
