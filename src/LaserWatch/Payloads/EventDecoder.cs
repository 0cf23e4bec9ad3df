using System.Text;
using System.Text.Json;
using System.Xml;
using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>Job, service and command messages, as config/interface.md has them.</summary>
/// <remarks>
/// Names longer than <see cref="LongestText"/> are refused, since a cut name is another name; free text is cut, with '…' at its end, since
/// a long note must not lose the event. Numbers and true/false stand for their text. Fields nobody knows are kept of a service event.
/// </remarks>
internal sealed class EventDecoder(PayloadOptions options)
{
    public const int LongestText = 256;
    public const int MostFields = 40;

    /// <summary>The longest a condition can be shelved for.</summary>
    public static readonly TimeSpan LongestShelving = TimeSpan.FromDays(30);

    /// <param name="payload">Known to be whole, valid JSON.</param>
    public void DecodeJob(string machine, ReadOnlySpan<byte> payload, Instant arrival, DecodedMessage into)
    {
        if (!TryReadFields(payload, arrival, into, out var fields, out var at)
            || !TryName(fields, "event", "start or end", into, out var name) || !TryOptionalName(fields, "job", into, out var job))
            return;
        JobEventKind? kind = name switch { "start" => JobEventKind.Start, "end" => JobEventKind.End, _ => null };
        if (kind is null)
            into.Reject(Rejection.MalformedEvent, $"event is {PayloadText.Quote(name)}: use start or end");
        else
            into.Job = new(machine, at, kind.Value, job);
    }

    /// <inheritdoc cref="DecodeJob"/>
    public void DecodeService(string machine, ReadOnlySpan<byte> payload, Instant arrival, DecodedMessage into)
    {
        if (!TryReadFields(payload, arrival, into, out var fields, out var at)
            || !TryName(fields, "part", "what was served, such as tube", into, out var part)
            || !TryName(fields, "action", "what was done, such as replaced", into, out var action)
            || !TryOptionalName(fields, "serial", into, out var serial))
            return;
        fields.Remove("note", out var note);
        IReadOnlyDictionary<string, string> details = ServiceEvent.NoDetails;
        if (fields.Count > 0)
            details = fields.ToDictionary(pair => PayloadText.Clean(pair.Key, LongestText), pair => PayloadText.Clean(pair.Value, LongestText));
        // An annotation is about a span of the past, and stands where that begins.
        if (part == Annotation.Part && details.TryGetValue("from", out var from))
        {
            if (!Rfc3339.TryParse(from, out at))
            {
                into.Reject(Rejection.MalformedEvent, $"from is {PayloadText.Quote(from)}: give the annotated span's begin, such as 2026-03-09T08:00:00Z");
                return;
            }

            into.SkewedTimes = 0;
        }

        into.Service = new(machine, at, part, action, serial, note is null ? null : PayloadText.Clean(note, LongestText), details);
    }

    /// <inheritdoc cref="DecodeJob"/>
    public void DecodeCommand(string machine, ReadOnlySpan<byte> payload, Instant arrival, DecodedMessage into)
    {
        const string Known = "acknowledge, shelve, unshelve, out-of-service, in-service or reset";
        if (!TryReadFields(payload, arrival, into, out var fields, out var at) || !TryName(fields, "do", Known, into, out var name)
            || !TryName(fields, "condition", "the alarm's condition, such as air-pressure-low", into, out var condition)
            || !TryName(fields, "by", "who asks", into, out var by))
            return;
        AlarmCommandKind? kind = name switch
        {
            "acknowledge" => AlarmCommandKind.Acknowledge,
            "shelve" => AlarmCommandKind.Shelve,
            "unshelve" => AlarmCommandKind.Unshelve,
            "out-of-service" => AlarmCommandKind.OutOfService,
            "in-service" => AlarmCommandKind.InService,
            "reset" => AlarmCommandKind.Reset,
            _ => null,
        };
        if (kind is null)
        {
            into.Reject(Rejection.MalformedEvent, $"do is {PayloadText.Quote(name)}: use {Known}");
            return;
        }

        if (!IsConditionName(condition))
        {
            into.Reject(Rejection.MalformedEvent, $"condition {PayloadText.Quote(condition)} is no condition: use a-z, 0-9 and '-'");
            return;
        }

        TimeSpan? span = null;
        if (kind == AlarmCommandKind.Shelve)
        {
            if (!TryName(fields, "for", "how long to shelve, as an ISO 8601 duration such as PT30M", into, out var text)
                || !TryDuration(text, into, out var duration))
                return;
            span = duration;
        }

        fields.TryGetValue("why", out var why);
        into.Command = new(machine, at, kind.Value, condition, by, span, why is null ? null : PayloadText.Clean(why, LongestText));
    }

    private bool TryReadFields(
        ReadOnlySpan<byte> payload, Instant arrival, DecodedMessage into, out Dictionary<string, string> fields, out Instant at)
    {
        fields = new(StringComparer.Ordinal);
        at = arrival;
        var reader = new Utf8JsonReader(payload, new JsonReaderOptions { MaxDepth = options.MaxJsonDepth });
        reader.Read();
        if (reader.TokenType != JsonTokenType.StartObject)
            return Refuse(into, "the event is no JSON object");

        while (reader.Read() && reader.TokenType == JsonTokenType.PropertyName)
        {
            var name = reader.GetString()!;
            reader.Read();
            if (name == "time")
            {
                if (!SensorTime.TryRead(ref reader, out var time))
                {
                    into.Reject(Rejection.MalformedTime, "time is neither RFC 3339 with an offset nor a number of seconds or milliseconds");
                    return false;
                }

                if (time is { } told)
                {
                    at = SensorTime.Believe(told, arrival, options, out var skewed);
                    into.SkewedTimes = skewed ? 1 : 0;
                }

                continue;
            }

            if (TextOf(ref reader, payload) is { } text)
                fields[name] = text;
            if (fields.Count > MostFields)
                return Refuse(into, $"the event has more than {MostFields} fields");
        }

        return true;
    }

    // A nested value of an unknown field stays JSON text. Null is as good as absent.
    private static string? TextOf(ref Utf8JsonReader reader, ReadOnlySpan<byte> payload)
    {
        switch (reader.TokenType)
        {
            case JsonTokenType.Null:
                return null;
            case JsonTokenType.String:
                return reader.GetString();
            case JsonTokenType.StartObject or JsonTokenType.StartArray:
                var start = (int)reader.TokenStartIndex;
                reader.Skip();
                return Encoding.UTF8.GetString(payload[start..(int)reader.BytesConsumed]);
            default:
                return Encoding.UTF8.GetString(reader.ValueSpan);
        }
    }

    private static bool TryName(Dictionary<string, string> fields, string field, string meaning, DecodedMessage into, out string name)
    {
        if (!TryOptionalName(fields, field, into, out var found))
        {
            name = "";
            return false;
        }

        name = found ?? "";
        return found is not null || Refuse(into, $"{field} is missing: give {meaning}");
    }

    /// <summary>Takes the field away, so that what remains are the fields nobody knows.</summary>
    private static bool TryOptionalName(Dictionary<string, string> fields, string field, DecodedMessage into, out string? name)
    {
        name = null;
        if (!fields.Remove(field, out var text))
            return true;
        text = text.Trim();
        if (text.Length == 0)
            return Refuse(into, $"{field} is empty");
        if (text.Length > LongestText)
            return Refuse(into, $"{field} is longer than {LongestText} characters");
        name = PayloadText.Clean(text, LongestText);
        return true;
    }

    private static bool TryDuration(string text, DecodedMessage into, out TimeSpan duration)
    {
        duration = default;
        try
        {
            duration = XmlConvert.ToTimeSpan(text);
        }
        catch (Exception malformed) when (malformed is FormatException or OverflowException)
        {
            return Refuse(into, $"for is {PayloadText.Quote(text)}: use an ISO 8601 duration such as PT30M");
        }

        return (duration > TimeSpan.Zero && duration <= LongestShelving)
            || Refuse(into, $"for is {PayloadText.Quote(text)}: use more than nothing and at most {LongestShelving.TotalDays} days");
    }

    private static bool IsConditionName(string text)
    {
        foreach (var c in text)
        {
            if (!char.IsAsciiDigit(c) && c is not ((>= 'a' and <= 'z') or '-'))
                return false;
        }

        return text.Length <= 100;
    }

    private static bool Refuse(DecodedMessage into, string why)
    {
        into.Reject(Rejection.MalformedEvent, why);
        return false;
    }
}
