using LaserWatch.Alarms;

namespace LaserWatch.Practice.Screen;

/// <summary>The longer texts of the screen.</summary>
internal static class PracticeTexts
{
    private static readonly string[][] Keys =
    [
        ["a", "acknowledge an alarm: with several, a list"],
        ["r", "ask for a channel's reading, beside what is recorded for the job and what was usual in its earlier runs"],
        ["t", "look at a channel's trend: the last minutes, and run by run of the job"],
        ["k", "do a check; you are told what it finds. Its minutes are counted, but the clock does not run on"],
        ["c", "name the cause: your answer. You may give another; the last one stands"],
        ["n", "say that nothing is wrong: that too is an answer"],
        ["s", "stop the job"],
        ["h", "hold the recording's time, or let it go on"],
        ["1 to 9", "the pace, from as it happened (1) by 10 (4) and 100 (7) to 1000 times as fast (9)"],
        ["l", "all that you were told, and all alarms that stand"],
        ["d", "done: the debrief"],
        ["g", "give up: the debrief too"],
        ["e, Ctrl-C", "end"],
    ];

    public static IReadOnlyList<string> Help(int width) =>
    [
        .. TextFlow.Wrap("This is a recording, played through the rules that watch a machine live. Find out what is wrong, or that nothing is. While a list or this text is open the recording's time stands.", width),
        "",
        .. NotesText.Table(Keys, width),
        "",
        .. TextFlow.Wrap("In a list: arrows, or type a part of a word; Enter takes it, Esc leaves. All times are UTC. Checks are told here, not done: on a real machine heed what each says of safety. " + Cautions.Advisory, width),
    ];

    public static IReadOnlyList<string> Told(PracticeDesk desk, int width)
    {
        List<string> lines = [.. Lines(desk, width)];
        var standing = Alarms(desk.Session);
        lines.Add("");
        lines.Add(standing.Count == 0 ? "No alarm stands." : "Alarms that stand:");
        foreach (var alarm in standing)
            lines.AddRange(TextFlow.Wrap($"{alarm.State.Name()}, priority {alarm.Priority.Name()}, {alarm.Condition}, {PracticeWords.TimeOfDay(alarm.Time)}: {TextFlow.Harmless(alarm.Message)}", width, "", "  "));
        return lines;
    }

    public static IEnumerable<string> Lines(PracticeDesk desk, int width) => desk.Told.SelectMany(told => Of(told.At, told.Words, width));

    public static IEnumerable<string> Of(Telemetry.Instant at, string words, int width) =>
        TextFlow.Wrap(words, width, PracticeWords.TimeOfDay(at) + "  ", "          ");

    /// <summary>What waits first, then by priority.</summary>
    public static IReadOnlyList<AlarmChange> Alarms(PracticeSession session) =>
        [.. session.Standing
            .OrderByDescending(a => a.State is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged)
            .ThenByDescending(a => a.Priority).ThenBy(a => a.Time)];
}
