using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>A debrief in plain lines: the answer, the times, what the data showed when, the checks, and the case's notes.</summary>
internal static class DebriefText
{
    public static IReadOnlyList<string> Lines(PracticeDebrief debrief, int width)
    {
        var practised = debrief.Session.Case;
        List<string> lines = [.. TextFlow.Wrap($"Debrief: {TextFlow.Harmless(practised.Title)} ({practised.Name})", width), ""];
        lines.AddRange(NotesText.Table([.. Facts(debrief)], width));
        Chapter(lines, "What the data showed", Shown(debrief), width, debrief.Session.Case.IsNothingWrong ? "No alarm rose, and nothing was wrong." : "Nothing that these rules or charts could show.");
        Chapter(lines, "What you did", debrief.Session.Acts.Where(a => a.Act.Kind is not (PracticeActKind.Finish or PracticeActKind.GiveUp)).Select(a => new[] { PracticeWords.TimeOfDay(a.At), Words(a) }), width, "Nothing.");
        Chapter(lines, "Checks", Checks(debrief), width, practised.IsNothingWrong ? "None, and none was needed." : "None.");
        lines.Add("");
        lines.AddRange(NotesText.Lines(practised.Notes, width));
        lines.Add("");
        lines.AddRange(TextFlow.Wrap(Cautions.Advisory, width));
        return lines;
    }

    private static void Chapter(List<string> lines, string title, IEnumerable<string[]> rows, int width, string whereEmpty)
    {
        lines.AddRange(["", title]);
        string[][] all = [.. rows];
        lines.AddRange(all.Length == 0 ? [whereEmpty] : NotesText.Table(all, width));
    }

    private static IEnumerable<string[]> Facts(PracticeDebrief debrief)
    {
        var practised = debrief.Session.Case;
        yield return ["Your answer", Verdict(debrief)];
        yield return ["What was wrong", practised.IsNothingWrong ? "nothing" : string.Join("; or ", practised.Causes.Select(id => Named(debrief, id)))
            + (practised.Began is { } began ? $"; it began {PracticeWords.DayAndTime(began)} UTC" : "")];
        if (!practised.IsNothingWrong)
        {
            yield return ["Time to notice", debrief is { ToNotice: { } noticed, Noticed: { } act }
                ? $"{PracticeWords.Duration(noticed)}: at {PracticeWords.TimeOfDay(act.At)}, {Words(act)}"
                : "not noticed"];
        }

        yield return [practised.IsNothingWrong ? "Time to the answer" : "Time to the cause", debrief.ToCause is { } cause ? PracticeWords.Duration(cause) : "never"];
        yield return ["Timed from", practised.Began is { } start && start > debrief.Session.Time.Start
            ? $"{PracticeWords.TimeOfDay(debrief.From)}, when it began"
            : $"{PracticeWords.TimeOfDay(debrief.From)}, when you began to watch{(practised.IsNothingWrong ? "" : "; it had begun before")}"];
        if (debrief.Checks.Count > 0)
            yield return ["Effort of checks", $"{PracticeWords.Minutes(debrief.MinutesNeeded)} needed, {PracticeWords.Minutes(debrief.MinutesNotNeeded)} not needed"];
        if (debrief.Stopped is { } stop)
            yield return ["Job stopped", $"at {PracticeWords.TimeOfDay(stop.At)}{(debrief.NeedlessStops > 0 ? ", when nothing was wrong" : "")}"];
        if (practised.IsNothingWrong || debrief.FalseAcknowledgements > 0)
            yield return ["False acknowledgements", debrief.FalseAcknowledgements.ToString(System.Globalization.CultureInfo.InvariantCulture)];
    }

    private static string Verdict(PracticeDebrief debrief)
    {
        var answer = debrief.Answer is not { } given ? "none"
            : given.Act.Kind == PracticeActKind.SayNothingIsWrong ? "nothing is wrong"
            : Named(debrief, given.Act.On!);
        return debrief.Verdict switch
        {
            PracticeVerdict.Right => $"{answer}. Right.",
            PracticeVerdict.Wrong when debrief.Answer!.Act.On is { } on && debrief.Session.Case.Causes.Contains(on) => $"{answer}. Given before it began, when nothing could show it: it does not count.",
            PracticeVerdict.Wrong => $"{answer}. Wrong.",
            PracticeVerdict.GivenUp => $"{answer}; given up",
            _ => answer,
        };
    }

    private static string Named(PracticeDebrief debrief, string id) =>
        debrief.Session.Model.FindCause(id) is { } cause ? $"{cause.What} ({id})" : id;

    /// <summary>Alarms and departures in one row of time.</summary>
    private static IEnumerable<string[]> Shown(PracticeDebrief debrief)
    {
        var zero = debrief.Session.Case.Began ?? debrief.Session.Time.Start;
        var rows = debrief.Alarms.Select(a => (a.Alarm.Time, Words: $"alarm {a.Alarm.Condition}, priority {a.Alarm.Priority.Name()}: {TextFlow.Harmless(a.Alarm.Message)}{(a.AfterTheEnd ? " (after you were done)" : "")}"))
            .Concat(debrief.Departures.Select(d => (Time: d.At, Words: $"{d.What} {PracticeWords.With(d.Value, d.Unit)} at {d.Job}, and usual was {PracticeWords.With(d.Usual, d.Unit)}: first seen off")))
            .OrderBy(row => row.Time);
        foreach (var (at, words) in rows)
            yield return [PracticeWords.DayAndTime(at), After(at, zero), words];
    }

    private static string After(Instant at, Instant zero) => $"{(at < zero ? '-' : '+')}{PracticeWords.Duration(at - zero)}";

    private static IEnumerable<string[]> Checks(PracticeDebrief debrief)
    {
        foreach (var done in debrief.Checks)
            yield return [done.IsNeeded ? "needed" : "not needed", done.Check.Id, PracticeWords.Minutes(done.Check.Minutes), done.Finds ? "found the cause" : "found nothing"];
        foreach (var missed in debrief.Missed)
            yield return ["left out", missed.Id, PracticeWords.Minutes(missed.Minutes), missed.How];
    }

    internal static string Words(DoneAct done) => done.Act switch
    {
        { Kind: PracticeActKind.Acknowledge, On: { } on } => $"acknowledge {on}{(done.IsFalse ? ", which did not wait" : "")}",
        { Kind: PracticeActKind.Acknowledge } => "acknowledge, with no alarm waiting",
        { Kind: PracticeActKind.AskReading } => $"reading of {done.Act.On}",
        { Kind: PracticeActKind.LookAtTrend } => $"trend of {done.Act.On}",
        { Kind: PracticeActKind.NameCause } => $"answer {done.Act.On}",
        { Kind: PracticeActKind.Check } => $"check {done.Act.On}",
        { Kind: PracticeActKind.StopJob } => "stop the job",
        { Kind: PracticeActKind.SayNothingIsWrong } => "answer: nothing is wrong",
        { Kind: PracticeActKind.GiveUp } => "give up",
        _ => "done",
    };
}
