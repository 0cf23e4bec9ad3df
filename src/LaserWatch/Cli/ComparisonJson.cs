using System.Buffers;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Rehearsal;
using static LaserWatch.Cli.JsonParts;

namespace LaserWatch.Cli;

/// <summary>A comparison as one JSON object, for scripts.</summary>
/// <remarks>
/// <c>summary</c>; <c>from, to</c> (RFC 3339, null where nothing was played), <c>days</c>; <c>a, b</c>: each <c>configuration, raised, per_day,
/// low, medium, high, urgent, in_alarm_seconds</c>; <c>same_rules</c>, <c>differences</c> (<c>path, a, b, touches_rules</c>); <c>annotations</c> (their number), <c>annotated_a, annotated_b</c> (<c>faults, found, missed,
/// false_alarms, ignored, elsewhere, by_fault</c>; null without annotations); <c>conditions</c>; <c>alarms</c>: each
/// <c>machine, condition, fate</c> (<c>same, changed, vanishes, appears</c>), <c>a, b</c> (<c>raised, ended, priority, seconds</c>, or null),
/// <c>moved_seconds, longer_seconds</c> (null where only one raises it).
/// </remarks>
internal static class ComparisonJson
{
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static void Print(ComparisonFound found, TextWriter output)
    {
        var comparison = found.Comparison;
        var bytes = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(bytes, Options))
        {
            json.WriteStartObject();
            json.WriteString("summary", found.Summary);
            json.WriteString("from", comparison.First is { } first ? Rfc3339.Format(first) : null);
            json.WriteString("to", comparison.Last is { } last ? Rfc3339.Format(last) : null);
            json.WriteNumber("days", comparison.Days);
            Write(json, "a", found.NameA, comparison.A, comparison);
            Write(json, "b", found.NameB, comparison.B, comparison);
            json.WriteBoolean("same_rules", found.SameRules);
            json.WriteStartArray("differences");
            foreach (var d in found.Differences)
            {
                json.WriteStartObject();
                json.WriteString("path", d.Path);
                WriteRaw(json, "a", d.A);
                WriteRaw(json, "b", d.B);
                json.WriteBoolean("touches_rules", d.TouchesRules);
                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteNumber("annotations", found.Annotations.Count);
            Write(json, "annotated_a", found.ScoreA);
            Write(json, "annotated_b", found.ScoreB);
            json.WriteStartArray("conditions");
            foreach (var condition in comparison.Conditions)
                Write(json, condition);
            json.WriteEndArray();
            json.WriteStartArray("alarms");
            foreach (var pair in comparison.Pairs)
                Write(json, pair);
            json.WriteEndArray();
            json.WriteEndObject();
        }

        output.WriteLine(Encoding.UTF8.GetString(bytes.WrittenSpan));
    }

    private static void Write(Utf8JsonWriter json, string name, string configuration, SideTally side, Comparison comparison)
    {
        json.WriteStartObject(name);
        json.WriteString("configuration", configuration);
        json.WriteNumber("raised", side.Raised);
        Number(json, "per_day", comparison.PerDay(side));
        foreach (var priority in Enum.GetValues<AlarmPriority>())
            json.WriteNumber(priority.Name(), side.ByPriority[(int)priority]);
        json.WriteNumber("in_alarm_seconds", side.Stood.TotalSeconds);
        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, string name, AnnotationScore? score)
    {
        if (score is null)
        {
            json.WriteNull(name);
            return;
        }

        json.WriteStartObject(name);
        json.WriteNumber("faults", score.Faults.Count);
        json.WriteNumber("found", score.Found);
        json.WriteNumber("missed", score.Missed);
        json.WriteNumber("false_alarms", score.FalseAlarms.Count);
        json.WriteNumber("ignored", score.Ignored);
        json.WriteNumber("elsewhere", score.Elsewhere);
        json.WriteStartArray("by_fault");
        foreach (var fault in score.Faults)
        {
            json.WriteStartObject();
            json.WriteString("machine", fault.Fault.Machine);
            json.WriteString("id", fault.Fault.Id);
            json.WriteString("cause", fault.Fault.Cause);
            json.WriteString("found_by", fault.FoundBy?.Condition);
            Number(json, "after_seconds", fault.After?.TotalSeconds);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, ConditionTally c)
    {
        json.WriteStartObject();
        json.WriteString("machine", c.Machine);
        json.WriteString("condition", c.Condition);
        json.WriteNumber("raised_a", c.RaisedA);
        json.WriteNumber("raised_b", c.RaisedB);
        json.WriteNumber("same", c.Same);
        json.WriteNumber("changed", c.Moved);
        json.WriteNumber("vanish", c.Vanish);
        json.WriteNumber("appear", c.Appear);
        json.WriteNumber("in_alarm_seconds_a", c.StoodA.TotalSeconds);
        json.WriteNumber("in_alarm_seconds_b", c.StoodB.TotalSeconds);
        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, AlarmPair pair)
    {
        json.WriteStartObject();
        json.WriteString("machine", pair.Machine);
        json.WriteString("condition", pair.Condition);
        json.WriteString("fate", pair.Fate switch { AlarmFate.Same => "same", AlarmFate.Changed => "changed", AlarmFate.Vanishes => "vanishes", _ => "appears" });
        Write(json, "a", pair.A);
        Write(json, "b", pair.B);
        Number(json, "moved_seconds", pair.MovedBy?.TotalSeconds);
        Number(json, "longer_seconds", pair.LongerBy?.TotalSeconds);
        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, string name, RaisedAlarm? alarm)
    {
        if (alarm is null)
        {
            json.WriteNull(name);
            return;
        }

        json.WriteStartObject(name);
        json.WriteString("raised", Rfc3339.Format(alarm.Raised));
        json.WriteString("ended", alarm.Ended is { } ended ? Rfc3339.Format(ended) : null);
        json.WriteString("priority", alarm.Priority.Name());
        json.WriteNumber("seconds", alarm.Length.TotalSeconds);
        json.WriteEndObject();
    }

    private static void WriteRaw(Utf8JsonWriter json, string name, string? value)
    {
        json.WritePropertyName(name);
        if (value is null)
            json.WriteNullValue();
        else
            json.WriteRawValue(value);
    }
}
