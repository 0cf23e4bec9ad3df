using System.Buffers;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;

namespace LaserWatch.Cli;

/// <summary>The performance of the alarms as one JSON object, for scripts.</summary>
/// <remarks>
/// <c>from, to</c> (RFC 3339), <c>basis_days</c>, <c>lost_seconds</c>, then <c>whole</c> and <c>machines</c>, each with <c>machine</c> (null: the shop),
/// <c>covered_days, covered_hours, hours</c>, <c>not_covered</c> (<c>from, to</c>), <c>annunciated, different_alarms</c>, <c>measures</c> by key
/// (<c>value, unit, recommended, source, known, verdict, why</c>) and <c>most_frequent</c>. <c>verdict</c> is <c>within</c>, <c>above</c>,
/// <c>too-little-data</c> or <c>not-judged</c>. Numbers are not rounded.
/// </remarks>
internal static class PerformanceJson
{
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static void Print(PerformanceFound found, TextWriter output)
    {
        var bytes = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(bytes, Options))
        {
            json.WriteStartObject();
            json.WriteString("from", Rfc3339.Format(found.Whole.Figures.From));
            json.WriteString("to", Rfc3339.Format(found.Whole.Figures.To));
            json.WriteNumber("basis_days", PerformanceStandard.LeastDays);
            json.WriteNumber("lost_seconds", found.LostSeconds);
            json.WritePropertyName("whole");
            Write(json, found.Whole);
            json.WriteStartArray("machines");
            foreach (var machine in found.Machines)
                Write(json, machine);
            json.WriteEndArray();
            json.WriteEndObject();
        }

        output.WriteLine(Encoding.UTF8.GetString(bytes.WrittenSpan));
    }

    private static void Write(Utf8JsonWriter json, Performance performance)
    {
        var f = performance.Figures;
        json.WriteStartObject();
        json.WriteString("machine", performance.Machine);
        json.WriteNumber("covered_days", f.CoveredDays);
        json.WriteNumber("covered_hours", f.CoveredHours);
        json.WriteNumber("hours", f.Hours);
        json.WriteStartArray("not_covered");
        foreach (var (from, to) in performance.NotCovered)
        {
            json.WriteStartObject();
            json.WriteString("from", Rfc3339.Format(from));
            json.WriteString("to", Rfc3339.Format(to));
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteNumber("annunciated", f.Annunciations);
        json.WriteNumber("different_alarms", f.DifferentAlarms);
        json.WriteStartObject("measures");
        foreach (var measure in performance.Measures)
            Write(json, measure);
        json.WriteEndObject();
        json.WriteStartArray("most_frequent");
        foreach (var alarm in f.MostFrequent)
        {
            json.WriteStartObject();
            json.WriteString("machine", alarm.Machine);
            json.WriteString("condition", alarm.Condition);
            json.WriteNumber("annunciated", alarm.Annunciations);
            json.WriteNumber("share", alarm.Share);
            json.WriteBoolean("chattered", alarm.Chattered);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteEndObject();
    }

    private static void Write(Utf8JsonWriter json, PerformanceMeasure measure)
    {
        json.WriteStartObject(measure.Key);
        if (measure.Value is { } value)
            json.WriteNumber("value", value);
        else
            json.WriteNull("value");
        json.WriteString("unit", measure.Unit);
        json.WriteString("recommended", Known(measure.Recommended));
        json.WriteString("source", Known(measure.Source));
        json.WriteString("known", Known(measure.Known));
        json.WriteString("verdict", measure.Verdict switch
        {
            PerformanceVerdict.Within => "within",
            PerformanceVerdict.Above => "above",
            PerformanceVerdict.TooLittleData => "too-little-data",
            _ => "not-judged",
        });
        json.WriteString("why", measure.Why);
        json.WriteEndObject();
    }

    private static string? Known(string text) => text.Length == 0 ? null : text;
}
