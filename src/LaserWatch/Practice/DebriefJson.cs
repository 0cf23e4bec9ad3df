using System.Buffers;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>Who practised, when and how: what the session itself does not know.</summary>
/// <param name="At">Today's time.</param>
/// <param name="Name">The trainee's, only where he gave it.</param>
/// <param name="Speed">At the end; null: by a script.</param>
public sealed record PracticeCircumstances(Instant At, string? Name, double? Speed);

/// <summary>A debrief as one JSON object on one line, for the results log.</summary>
internal static class DebriefJson
{
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <returns>UTF-8, with its line feed.</returns>
    public static byte[] Line(PracticeDebrief debrief, PracticeCircumstances circumstances)
    {
        var bytes = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(bytes, Options))
            Write(json, debrief, circumstances);
        return [.. bytes.WrittenSpan, (byte)'\n'];
    }

    private static void Write(Utf8JsonWriter json, PracticeDebrief debrief, PracticeCircumstances circumstances)
    {
        var practised = debrief.Session.Case;
        json.WriteStartObject();
        json.WriteString("time", Rfc3339.Format(circumstances.At));
        json.WriteString("case", practised.Name);
        json.WriteString("title", practised.Title);
        if (circumstances.Name is { } name)
            json.WriteString("name", name);
        if (circumstances.Speed is { } speed)
            json.WriteNumber("speed", speed);
        json.WriteBoolean("scripted", circumstances.Speed is null);
        json.WriteString("verdict", debrief.Verdict switch
        {
            PracticeVerdict.Right => "right",
            PracticeVerdict.Wrong => "wrong",
            PracticeVerdict.GivenUp => "given-up",
            _ => "none",
        });
        json.WriteString("answer", debrief.Answer is { } answer ? answer.Act.On ?? "nothing-is-wrong" : null);
        Texts(json, "causes", practised.Causes);
        Time(json, "began", practised.Began);
        Time(json, "watched_from", debrief.Session.Time.Start);
        Time(json, "ended", debrief.Ended);
        Seconds(json, "seconds_watched", debrief.Session.Time.At(debrief.Ended));
        Seconds(json, "seconds_to_notice", debrief.ToNotice);
        Seconds(json, "seconds_to_cause", debrief.ToCause);
        Time(json, "stopped", debrief.Stopped?.At);
        json.WriteNumber("needless_stops", debrief.NeedlessStops);
        json.WriteNumber("false_acknowledgements", debrief.FalseAcknowledgements);
        json.WriteNumber("minutes_needed", debrief.MinutesNeeded);
        json.WriteNumber("minutes_not_needed", debrief.MinutesNotNeeded);
        Objects(json, "checks", debrief.Checks, done =>
        {
            json.WriteString("check", done.Check.Id);
            Time(json, "time", done.At);
            json.WriteNumber("minutes", done.Check.Minutes);
            json.WriteBoolean("needed", done.IsNeeded);
            json.WriteBoolean("found", done.Finds);
        });
        Texts(json, "checks_left_out", debrief.Missed.Select(c => c.Id));
        Objects(json, "alarms", debrief.Alarms, raised =>
        {
            json.WriteString("condition", raised.Alarm.Condition);
            json.WriteString("priority", raised.Alarm.Priority.Name());
            Time(json, "time", raised.Alarm.Time);
            json.WriteBoolean("after_the_end", raised.AfterTheEnd);
        });
        Objects(json, "departures", debrief.Departures, departure =>
        {
            json.WriteString("what", departure.What);
            Time(json, "time", departure.At);
            json.WriteNumber("value", departure.Value);
            json.WriteNumber("usual", departure.Usual);
            json.WriteString("unit", departure.Unit);
            json.WriteString("job", departure.Job);
        });
        Objects(json, "acts", debrief.Session.Acts, done =>
        {
            Time(json, "time", done.At);
            json.WriteString("act", PracticeScript.NameOf(done.Act.Kind));
            if (done.Act.On is { } on)
                json.WriteString("on", on);
        });
        json.WriteEndObject();
    }

    private static void Time(Utf8JsonWriter json, string name, Instant? at) => json.WriteString(name, at is { } known ? Rfc3339.Format(known) : null);

    private static void Seconds(Utf8JsonWriter json, string name, TimeSpan? span)
    {
        if (span is { } known)
            json.WriteNumber(name, Math.Round(known.TotalSeconds, 3));
        else
            json.WriteNull(name);
    }

    private static void Texts(Utf8JsonWriter json, string name, IEnumerable<string> texts)
    {
        json.WriteStartArray(name);
        foreach (var text in texts)
            json.WriteStringValue(text);
        json.WriteEndArray();
    }

    private static void Objects<T>(Utf8JsonWriter json, string name, IEnumerable<T> rows, Action<T> write)
    {
        json.WriteStartArray(name);
        foreach (var row in rows)
        {
            json.WriteStartObject();
            write(row);
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }
}
