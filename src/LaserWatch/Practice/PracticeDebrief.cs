using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

public enum PracticeVerdict
{
    /// <summary>No answer was given.</summary>
    Open,

    Right,
    Wrong,
    GivenUp,
}

/// <summary>A check that was done.</summary>
/// <param name="IsNeeded">A good operator does it, or it finds the cause.</param>
/// <param name="Finds">It found the cause when it was done.</param>
public sealed record DoneCheck(CauseCheck Check, Instant At, bool IsNeeded, bool Finds);

/// <summary>An alarm that was raised while the trainee watched, or after he had left.</summary>
/// <param name="AfterTheEnd">The trainee was done by then.</param>
public sealed record RaisedInPractice(AlarmChange Alarm, bool AfterTheEnd);

/// <summary>What came of a practice. All lengths of time are the recording's, without what was leapt over.</summary>
/// <param name="From">From when on things are timed: when it began to go wrong, or when the trainee began to watch, whichever is later.</param>
/// <param name="Ended">When the trainee was done.</param>
/// <param name="Noticed">The first act on the fault: an acknowledgement, a needed check, the cause, a stop of the job; null: none.</param>
/// <param name="ToCause">How long after <paramref name="From"/> the true answer was first given; null: never.</param>
/// <param name="FalseAcknowledgements">Of alarms that did not wait; in a case where nothing is wrong, all.</param>
/// <param name="NeedlessStops">Stops of the job before anything was wrong.</param>
public sealed record PracticeDebrief(
    PracticeSession Session, PracticeVerdict Verdict, DoneAct? Answer, Instant From, Instant Ended, DoneAct? Noticed, TimeSpan? ToNotice, TimeSpan? ToCause,
    DoneAct? Stopped, IReadOnlyList<DoneCheck> Checks, IReadOnlyList<CauseCheck> Missed, int FalseAcknowledgements, int NeedlessStops,
    IReadOnlyList<RaisedInPractice> Alarms, IReadOnlyList<Departure> Departures)
{
    public double MinutesNeeded => Checks.Where(c => c.IsNeeded).Sum(c => c.Check.Minutes);

    public double MinutesNotNeeded => Checks.Where(c => !c.IsNeeded).Sum(c => c.Check.Minutes);

    /// <summary>Reckons it, once the session is over: plays the rest of the recording for what the data still showed.</summary>
    /// <exception cref="IOException">The recording cannot be read on.</exception>
    /// <exception cref="InvalidDataException">The recording's compression is damaged.</exception>
    public static PracticeDebrief Of(PracticeSession session)
    {
        var ended = session.Now;
        var practised = session.Case;
        session.PlayOut();
        var from = practised.Began is { } began && began > session.Time.Start ? began : session.Time.Start;
        var acts = session.Acts;
        bool InTime(DoneAct act) => act.At >= from;
        TimeSpan Since(DoneAct act) => session.Time.Between(from, act.At);
        var raised = Raised(session);

        var answer = acts.LastOrDefault(a => a.Act.Kind is PracticeActKind.NameCause or PracticeActKind.SayNothingIsWrong);
        var isGivenUp = acts.Any(a => a.Act.Kind == PracticeActKind.GiveUp);
        var verdict = isGivenUp ? PracticeVerdict.GivenUp
            : answer is null ? PracticeVerdict.Open
            : answer.Finds ? PracticeVerdict.Right
            : PracticeVerdict.Wrong;
        var named = acts.FirstOrDefault(a => a.Finds && a.Act.Kind is PracticeActKind.NameCause or PracticeActKind.SayNothingIsWrong && a.Finds);
        var needed = Needed(session);
        var noticed = practised.IsNothingWrong ? null : acts.FirstOrDefault(a => InTime(a) && ActsOnTheFault(a));

        return new PracticeDebrief(
            session, verdict, answer, from, ended, noticed, noticed is null ? null : Since(noticed), named is null ? null : Since(named),
            acts.FirstOrDefault(a => a.Act.Kind == PracticeActKind.StopJob),
            [.. acts.Where(a => a.Act.Kind == PracticeActKind.Check).DistinctBy(a => (a.Act.On, a.Finds)).Select(a =>
                new DoneCheck(session.Model.FindCheck(a.Act.On!)!, a.At, a.Finds || (InTime(a) && needed.Contains(a.Act.On!)), a.Finds))],
            [.. practised.Checks.Where(id => !acts.Any(a => a.Act == new PracticeAct(PracticeActKind.Check, id))).Select(session.Model.FindCheck).OfType<CauseCheck>()],
            acts.Count(a => a.Act.Kind == PracticeActKind.Acknowledge && (a.IsFalse || practised.IsNothingWrong)),
            acts.Count(a => a.Act.Kind == PracticeActKind.StopJob && (practised.IsNothingWrong || !InTime(a))),
            [.. raised.Select(alarm => new RaisedInPractice(alarm, alarm.Time > ended))],
            practised.Began is { } since ? FirstDepartures.Of(session.Minutes, since) : []);

        bool ActsOnTheFault(DoneAct act) => act.Act.Kind switch
        {
            PracticeActKind.Acknowledge => !act.IsFalse && raised.Any(r => r.Condition == act.Act.On && r.Time >= from),
            PracticeActKind.Check => act.Finds || needed.Contains(act.Act.On!),
            PracticeActKind.NameCause => act.Finds,
            PracticeActKind.StopJob => true,
            _ => false,
        };
    }

    private static HashSet<string> Needed(PracticeSession session) =>
        [.. session.Case.Checks, .. session.Case.Causes.Select(session.Model.FindCause).OfType<Cause>().Select(c => c.Check)];

    /// <summary>Each time that a condition went from not standing to unacknowledged.</summary>
    private static List<AlarmChange> Raised(PracticeSession session)
    {
        var raised = new List<AlarmChange>();
        var states = new Dictionary<string, AlarmState>(StringComparer.Ordinal);
        for (var i = 0; i < session.Changes.Count; i++)
        {
            var change = session.Changes[i];
            var was = states.GetValueOrDefault(change.Condition);
            states[change.Condition] = change.State;
            if (i >= session.AlarmsBefore && change.State == AlarmState.Unacknowledged && was != AlarmState.Unacknowledged)
                raised.Add(change);
        }

        return raised;
    }
}
