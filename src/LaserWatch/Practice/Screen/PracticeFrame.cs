using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice.Screen;

/// <summary>The whole screen of a practice for a window of any size: as many lines as it is high, none wider than it.</summary>
internal static class PracticeFrame
{
    public const int LeastWidth = 80;
    public const int LeastHeight = 24;

    private const int FewestTold = 3;
    private const int FewestAlarms = 3;
    private const int TallestChart = 4;

    private static readonly TimeSpan ChartSpan = TimeSpan.FromMinutes(10);

    private static readonly string[] Keys =
    [
        "a acknowledge | r reading | t trend | k check | c cause | n nothing is wrong",
        "s stop job | h hold, go | 1-9 pace | l log | ? help | d debrief | g give up",
    ];

    public static IReadOnlyList<ScreenLine> Lines(PracticeDesk desk, int width, int height, bool ascii)
    {
        if (IsTooSmall(width, height))
            return TooSmall(width, height);
        List<ScreenLine> lines = [.. Header(desk, width)];
        string[] legend = [.. Legend(desk).SelectMany(text => TextFlow.Wrap(text, width))];
        var room = height - lines.Count - legend.Length;
        lines.AddRange(desk switch
        {
            { Choices: { } choices } => ChoiceLines(choices, width, room),
            { Reading: { } text } => text.Lines(width, room),
            _ => Watching(desk, width, room, ascii),
        });
        lines.AddRange(legend.Select(text => new ScreenLine(text.PadRight(width), LineLook.Bar)));
        return lines;
    }

    public static bool IsTooSmall(int width, int height) => width < LeastWidth || height < LeastHeight;

    private static List<ScreenLine> TooSmall(int width, int height)
    {
        var words = TextFlow.Wrap($"The window is {width} x {height}. Practice needs {LeastWidth} x {LeastHeight}: make it larger. Time stands.", Math.Max(1, width));
        return [.. words.Take(Math.Max(1, height)).Select(l => new ScreenLine(l))];
    }

    private static string[] Legend(PracticeDesk desk) => desk switch
    {
        { Question: { } question } => [question],
        { Choices: not null } => ["up, down, PgUp, PgDn: choose | letters: narrow the list", "Enter: take it | Esc: leave | time stands"],
        { Reading: not null } => ["up, down, PgUp, PgDn: read on", "Esc: close | time stands"],
        _ => [.. Keys, Cautions.LocalCodesFirst],
    };

    private static IEnumerable<ScreenLine> Header(PracticeDesk desk, int width)
    {
        var session = desk.Session;
        var state = session.IsPlayedOut ? "at its end" : desk.Pace.IsHeld ? "held" : desk.IsHeld ? "time stands" : "playing";
        var top = $"{PracticeWords.DayAndTime(session.Now)} UTC  {PracticeWords.Number(desk.Pace.Speed)}x {state}  watched {PracticeWords.Duration(session.Watched)}";
        yield return new ScreenLine(top.PadRight(width), LineLook.Bar);
        foreach (var line in TextFlow.Wrap($"{session.Case.Machine}: {TextFlow.Harmless(session.Case.Title)}", width))
            yield return new ScreenLine(line, LineLook.Heading);
        foreach (var line in TextFlow.Wrap(TextFlow.Harmless(JobWords(session)), width))
            yield return new ScreenLine(line);
    }

    private static string JobWords(PracticeSession session)
    {
        if (session.RunSince is not { } since)
            return "No job is under way.";
        var recorded = session.Record is not { } record ? "nothing is recorded for it" : "recorded: " + string.Join(", ", new[]
        {
            record.Power is { } power ? $"power {PracticeWords.With(power.Value, "%")}" : null,
            record.AirPressure is { } air ? $"air {PracticeWords.With(air.Value, "kPa")}" : null,
            record.TubeCurrent is { } current ? $"current {PracticeWords.With(current.Value, "mA")}" : null,
        }.OfType<string>());
        return $"Job {session.Job ?? "unknown"} for {PracticeWords.Duration(session.Now - since)}, beam {(session.IsBeamOn ? "on" : "off")}; {recorded}";
    }

    private static List<ScreenLine> ChoiceLines(ChoiceList choices, int width, int room)
    {
        var shown = choices.Shown;
        List<ScreenLine> lines = [new($"{choices.Title}{(choices.Typed.Length > 0 ? $"  with '{choices.Typed}'" : "")}", LineLook.Heading)];
        if (shown.Count == 0)
            lines.Add(new("Nothing in the list has that; Backspace takes a letter back."));
        var ids = shown.Count == 0 ? 0 : shown.Max(c => c.Id.Length);
        List<(int Item, string Text)> all = [.. shown.SelectMany((c, i) =>
            TextFlow.Wrap(c.Words, width, $"{(i == choices.At ? '>' : ' ')} {c.Id.PadRight(ids)}  ", new string(' ', ids + 4)).Select(text => (i, text)))];

        // The chosen one stays in view, whole.
        var fit = room - lines.Count;
        var first = all.FindIndex(l => l.Item == choices.At);
        var last = all.FindLastIndex(l => l.Item == choices.At);
        var top = last < fit ? 0 : Math.Min(first, Math.Max(last - fit + 1, first - (fit / 2)));
        lines.AddRange(all.Skip(top).Take(fit).Select(l => new ScreenLine(l.Text, l.Item == choices.At ? LineLook.Heading : LineLook.Usual)));
        return Filled(lines, room);
    }

    private static List<ScreenLine> Watching(PracticeDesk desk, int width, int room, bool ascii)
    {
        var session = desk.Session;
        Channel[] charted = [.. session.Channels.Where(c => c != Channel.Lasing && c != Channel.Runtime)];
        var forCharts = room - 1 - 1 - FewestAlarms - 1 - FewestTold;
        var tall = Math.Clamp(charted.Length == 0 ? 1 : (room - 11) / charted.Length, 1, TallestChart);
        var fits = Math.Min(charted.Length, Math.Max(1, (charted.Length * tall <= forCharts ? forCharts : forCharts - 1) / tall));

        var charts = ChannelRows.Lines(session, charted[..fits], charted.Length - fits, ChartSpan, width, tall, ascii);
        var left = room - charts.Count - 2;
        var forAlarms = Math.Max(FewestAlarms, left / 3);
        var alarms = Alarms(session, width, forAlarms);
        List<ScreenLine> lines = [.. charts, .. alarms];
        lines.Add(new("What you were told", LineLook.Heading));
        lines.AddRange(TailOf(desk, width, room - lines.Count));
        return Filled(lines, room);
    }

    private static List<ScreenLine> Alarms(PracticeSession session, int width, int most)
    {
        var standing = PracticeTexts.Alarms(session);
        var waiting = PracticeAnswers.Waiting(session).Count;
        List<ScreenLine> lines =
        [
            new(standing.Count == 0 ? "Alarms: none" : $"Alarms: {standing.Count}, of them {(waiting == 0 ? "none" : waiting)} unacknowledged", LineLook.Heading),
        ];
        string[][] rows = [.. standing.Select(a => new[] { a.State.Name(), a.Priority.Name(), a.Condition, PracticeWords.TimeOfDay(a.Time), Figures(a) })];
        for (var shown = rows.Length; shown > 0; shown--)
        {
            ScreenLine[] text = [.. NotesText.Table(rows[..shown], width).Select(l => new ScreenLine(l, l.Contains("unacknowledged", StringComparison.Ordinal) ? LineLook.Waiting : LineLook.Usual))];
            var rest = rows.Length - shown;
            if (text.Length + (rest > 0 ? 1 : 0) > most)
                continue;
            lines.AddRange(text);
            if (rest > 0)
                lines.Add(new($"and {rest} more: l shows them"));
            return lines;
        }

        if (rows.Length > 0)
            lines.Add(new($"{rows.Length} alarm(s): l shows them", LineLook.Waiting));
        return lines;
    }

    private static string Figures(AlarmChange alarm) =>
        alarm.Value is not { } value ? ""
        : alarm.Limit is not { } limit ? PracticeWords.With(value, alarm.Unit)
        : $"{PracticeWords.With(value, alarm.Unit)}, limit {PracticeWords.Number(limit)}";

    private static IEnumerable<ScreenLine> TailOf(PracticeDesk desk, int width, int room)
    {
        if (room <= 0)
            return [];
        var tail = new List<string>();
        foreach (var (at, words) in desk.Told.Reverse())
        {
            string[] whole = [.. PracticeTexts.Of(at, words, width)];
            if (tail.Count == 0 && whole.Length > room)
                whole = [.. whole.Take(room - 1), "          l shows the rest"];
            if (tail.Count + whole.Length > room)
                break;
            tail.InsertRange(0, whole);
        }

        return tail.Select(l => new ScreenLine(l));
    }

    private static List<ScreenLine> Filled(List<ScreenLine> lines, int room)
    {
        while (lines.Count < room)
            lines.Add(new(""));
        return lines;
    }
}
