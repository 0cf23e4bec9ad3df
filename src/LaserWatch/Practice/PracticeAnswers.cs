using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;
using LaserWatch.Jobs;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>What a trainee is told when he acts.</summary>
/// <remarks>A check is answered by the case. Of a cause nobody says whether it is true before the debrief: one can name another.</remarks>
internal static class PracticeAnswers
{
    private const int MostRuns = 8;
    private const int MostMinutes = 8;

    public static DoneAct To(PracticeAct act, PracticeSession session) => act.Kind switch
    {
        PracticeActKind.Acknowledge => Acknowledge(act, session),
        PracticeActKind.AskReading => OfChannel(act, session, Reading),
        PracticeActKind.LookAtTrend => OfChannel(act, session, Trend),
        PracticeActKind.NameCause => Name(act, session),
        PracticeActKind.Check => Check(act, session),
        PracticeActKind.StopJob when session.RunSince is null => Refused(act, session, "no job is under way"),
        PracticeActKind.StopJob => Taken(act, session, $"You stop {session.Job ?? "the job"}. The recording goes on as it went: nobody stopped it then."),
        PracticeActKind.SayNothingIsWrong => Taken(
            act, session, "Your answer: nothing is wrong. It stands until you name a cause.", finds: session.Case.IsNothingWrong),
        PracticeActKind.GiveUp => Taken(act, session, "You give up."),
        PracticeActKind.Finish => Taken(act, session, "Done."),
        _ => throw new InvalidOperationException($"Nobody knows how to do {act.Kind}."),
    };

    /// <summary>A cause, check or "nothing" cannot be true before it began to go wrong.</summary>
    internal static bool HasBegun(PracticeSession session) => session.Case.Began is not { } began || session.Now >= began;

    private static DoneAct Acknowledge(PracticeAct act, PracticeSession session)
    {
        var waiting = Waiting(session);
        var condition = act.On ?? (waiting.Count > 0 ? waiting[0].Condition : null);
        if (condition is null)
            return Taken(act, session, "No alarm waits for an acknowledgement.", isFalse: true);
        string[] known = [.. Conditions.All, .. session.Changes.Select(c => c.Condition)];
        if (!known.Contains(condition))
            return Unknown(act, session, "alarm", known);
        act = act with { On = condition };
        return session.Acknowledge(condition)
            ? Taken(act, session, $"{condition}: acknowledged.")
            : Taken(act, session, $"{condition}: nothing waits for an acknowledgement.", isFalse: true);
    }

    /// <summary>What waits for an acknowledgement, the most urgent first.</summary>
    public static IReadOnlyList<AlarmChange> Waiting(PracticeSession session) =>
        [.. session.Standing.Where(a => a.State is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged)
            .OrderByDescending(a => a.Priority).ThenBy(a => a.Time)];

    private static DoneAct OfChannel(PracticeAct act, PracticeSession session, Func<Channel, PracticeSession, string> answer)
    {
        var channel = session.Channels.FirstOrDefault(c => c.Name == act.On);
        return channel is null ? Unknown(act, session, "channel", [.. session.Channels.Select(c => c.Name)]) : Taken(act, session, answer(channel, session));
    }

    private static string Reading(Channel channel, PracticeSession session)
    {
        var trace = session.Trace(channel)!;
        var recorded = Recorded(channel, session.Record) is { } value
            ? $"recorded for the job: {PracticeWords.With(value, channel.Unit)}"
            : session.RunSince is null ? "no job is under way" : "nothing is recorded for it at this job";
        var usual = session.Minutes.Usual(channel) is { } middle
            ? $"usual {(session.RunSince is null ? "at rest" : "in earlier runs")}: {PracticeWords.With(middle, channel.Unit)}"
            : $"{(session.RunSince is null ? "no earlier rest" : "no earlier run of the job")} tells what is usual";
        return $"{channel.Name} {PracticeWords.With(trace.Last, channel.Unit)} at {PracticeWords.TimeOfDay(trace.LastAt)}; {recorded}; {usual}.";
    }

    private static string Trend(Channel channel, PracticeSession session)
    {
        var minutes = session.Minutes.Of(channel);
        if (minutes.Count == 0)
            return $"{channel.Name}: nothing yet to see a trend in.";
        var unit = channel.Unit.Length == 0 ? "" : $" {channel.Unit}";
        var last = minutes[^1];
        var runs = minutes.Where(m => m.Job == last.Job).GroupBy(m => m.Run).Select(run => Middle.Of([.. run.Select(m => m.Median)])).ToList();
        var kind = last.Job is null ? "rest" : $"run of {last.Job}";
        return $"{channel.Name}, the last minutes: {Row(minutes.TakeLast(MostMinutes).Select(m => m.Median))}{unit}; "
            + $"by {kind}, {Math.Min(runs.Count, MostRuns)} of {runs.Count}: {Row(Spread(runs))}{unit}.";
    }

    /// <summary>The first, the last and some between, so that a slow fall shows from where it came.</summary>
    private static IEnumerable<double> Spread(List<double> runs) =>
        runs.Count <= MostRuns ? runs : Enumerable.Range(0, MostRuns).Select(i => runs[i * (runs.Count - 1) / (MostRuns - 1)]);

    private static string Row(IEnumerable<double> values) => string.Join(", ", values.Select(PracticeWords.Number));

    private static DoneAct Name(PracticeAct act, PracticeSession session)
    {
        if (session.Model.FindCause(act.On ?? "") is not { } cause)
            return Unknown(act, session, "cause", [.. session.Model.Causes.Select(c => c.Id)]);
        return Taken(
            act, session, $"Your answer: {cause.What} ({cause.Id}). It stands until you give another.",
            finds: session.Case.Causes.Contains(cause.Id) && HasBegun(session));
    }

    private static DoneAct Check(PracticeAct act, PracticeSession session)
    {
        if (session.Model.FindCheck(act.On ?? "") is not { } check)
            return Unknown(act, session, "check", [.. session.Model.Checks.Select(c => c.Id)]);
        var found = HasBegun(session) ? session.Case.Causes.Select(session.Model.FindCause).FirstOrDefault(c => c?.Check == check.Id) : null;
        return Taken(
            act, session,
            $"{check.Id}, {PracticeWords.Minutes(check.Minutes)}: {(found is null ? "nothing found here." : $"found: {found.What}. Mend: {found.Mend}.")} (Mind: {check.Safety})",
            finds: found is not null);
    }

    internal static double? Recorded(Channel channel, JobRecord? record) =>
        channel == Channel.Power ? record?.Power?.Value
        : channel == Channel.AirPressure ? record?.AirPressure?.Value
        : channel == Channel.TubeCurrent ? record?.TubeCurrent?.Value
        : null;

    private static DoneAct Taken(PracticeAct act, PracticeSession session, string answer, bool finds = false, bool isFalse = false) =>
        new(act, session.Now, answer, IsTaken: true, finds, isFalse);

    private static DoneAct Refused(PracticeAct act, PracticeSession session, string why) => new(act, session.Now, why, IsTaken: false);

    private static DoneAct Unknown(PracticeAct act, PracticeSession session, string kind, IReadOnlyList<string> known)
    {
        var nearest = act.On is null ? null : NearestWord.To(act.On, known);
        return Refused(act, session, act.On is null
            ? $"say which {kind}: {string.Join(", ", known)}"
            : $"there is no {kind} '{act.On}'; {(nearest is null ? $"there is {string.Join(", ", known)}" : $"did you mean '{nearest}'?")}");
    }
}
