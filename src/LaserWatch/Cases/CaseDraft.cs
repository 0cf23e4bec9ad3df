using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>What is known of a case that was just cut; null: a person must fill it in.</summary>
internal sealed record CaseDraft
{
    public required string Machine { get; init; }

    public required Instant WatchFrom { get; init; }

    public string? Title { get; init; }

    public string? Summary { get; init; }

    public CaseLevel Level { get; init; } = CaseLevel.Usual;

    /// <summary>Empty: nothing was wrong.</summary>
    public IReadOnlyList<string>? Causes { get; init; }

    public Instant? Began { get; init; }

    public CaseOrigin Made { get; init; } = CaseOrigin.Recorded;

    public IReadOnlyList<string>? Checks { get; init; }

    /// <summary>With what people said of that time, where nothing else was given: the cause and beginning of a faulty span, or that a span was good.</summary>
    /// <param name="about">The time that the case is about.</param>
    /// <param name="knows">Whether the table of causes has one of this name.</param>
    public CaseDraft With(IEnumerable<Annotation> annotations, Instant about, Func<string, bool> knows)
    {
        if (Causes is not null || annotations.FirstOrDefault(a => a.Covers(about) && a.Kind != AnnotationKind.Ignore) is not { } said)
            return this;
        if (said.Kind == AnnotationKind.Good)
            return Began is null ? this with { Causes = [] } : this;
        return this with { Causes = said.Cause is { } cause && knows(cause) ? [cause] : null, Began = Began ?? said.From };
    }

    /// <summary>The text of <c>case.json</c>. What must be filled in begins with <see cref="CaseSheet.ToFillIn"/>, and <c>case check</c> names it.</summary>
    public string Sheet()
    {
        var isNothingWrong = Causes is { Count: 0 };
        using var bytes = new MemoryStream();
        using (var json = new Utf8JsonWriter(bytes, new JsonWriterOptions { Indented = true, NewLine = "\n", Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping }))
        {
            json.WriteStartObject();
            json.WriteString("title", Title ?? Open("what the case is called in a list, without the answer"));
            json.WriteString("machine", Machine);
            json.WriteString("level", Level.ToString().ToLowerInvariant());
            List(json, "causes", Causes, "causes of causes.json, likeliest first; leave the list empty where nothing was wrong");
            if (isNothingWrong)
                json.WriteNull("began");
            else
                json.WriteString("began", Began is { } began ? Rfc3339.Format(began) : Open("when it began to go wrong, or null where nobody knows"));
            json.WriteString("watchFrom", Rfc3339.Format(WatchFrom));
            List(json, "checks", isNothingWrong ? Checks ?? [] : Checks, "checks of causes.json, in the order a good operator takes");
            json.WriteString("summary", Summary ?? Open("one sentence for the start, without the answer"));
            json.WriteString("made", Made.ToString().ToLowerInvariant());
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(bytes.ToArray()) + "\n";
    }

    /// <summary>The text of <c>notes.md</c>: what the data showed is filled in from the recording, the rest is a person's.</summary>
    /// <param name="raised">Alarms raised in the watched part.</param>
    /// <param name="looked">The minutes to show, in order of time.</param>
    public string Notes(IReadOnlyList<AlarmChange> raised, IReadOnlyList<Instant> looked, MinuteReadings readings)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"# {Open("what it was, in a few words")}\n\n");
        text.Append(CultureInfo.InvariantCulture, $"## What happened\n\n{Open("what went wrong, when and why, and what was done about it")}\n\n");
        text.Append("## What the data showed\n\n");
        text.Append("Readings are medians of the minute that begins then; tube current, power and air with the beam on. Times are UTC.\n\n");
        text.Append("| time | channel | reading | what it says |\n|---|---|---|---|\n");
        foreach (var (_, row) in Rows(raised, looked, readings).OrderBy(row => row.At))
            text.Append(row);
        text.Append(CultureInfo.InvariantCulture, $"\n{Open("which of these rows tell the cause, and which mislead; take out the others")}\n\n");
        text.Append(CultureInfo.InvariantCulture, $"## What to check, and why\n\n{Open("each check, what it showed, and what to mind where hands go near the machine")}\n\n");
        text.Append(CultureInfo.InvariantCulture, $"## What was no use\n\n{Open("what was done or thought in vain")}\n");
        return text.ToString();
    }

    private static IEnumerable<(Instant At, string Row)> Rows(IReadOnlyList<AlarmChange> raised, IReadOnlyList<Instant> looked, MinuteReadings readings)
    {
        foreach (var minute in looked)
        {
            foreach (var channel in readings.Channels(minute).Where(channel => channel != Channel.Lasing))
            {
                var value = readings.Median(minute, channel)!.Value.ToString("0.0##", CultureInfo.InvariantCulture);
                yield return (minute, $"| {Text(minute, "yyyy-MM-dd HH:mm")} | {channel.Name} | {$"{value} {channel.Unit}".TrimEnd()} | |\n");
            }
        }

        foreach (var alarm in raised)
            yield return (alarm.Time, $"| {Text(alarm.Time, "yyyy-MM-dd HH:mm:ss")} | alarm | {alarm.Condition} | {alarm.Message.Replace('|', '/')} |\n");
    }

    private static string Open(string what) => $"{CaseSheet.ToFillIn}: {what}";

    private static string Text(Instant at, string format) => at.ToDateTimeOffset().ToString(format, CultureInfo.InvariantCulture);

    private static void List(Utf8JsonWriter json, string key, IReadOnlyList<string>? items, string what)
    {
        json.WriteStartArray(key);
        foreach (var item in items ?? [Open(what)])
            json.WriteStringValue(item);
        json.WriteEndArray();
    }
}
