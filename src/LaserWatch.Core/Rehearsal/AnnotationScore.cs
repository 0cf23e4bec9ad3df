using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Rules;

namespace LaserWatch.Rehearsal;

/// <summary>An annotated fault, and the first alarm that tells of it.</summary>
/// <param name="FoundBy">Null: missed.</param>
public sealed record AnnotatedFault(Annotation Fault, RaisedAlarm? FoundBy)
{
    /// <summary>From the span's begin; null where it was missed.</summary>
    public TimeSpan? After => FoundBy is null ? null : FoundBy.Raised - Fault.From;
}

/// <summary>How alarms stand against what people said of the same time: what a shop tunes by.</summary>
/// <param name="FalseAlarms">Raised in spans that were good.</param>
/// <param name="Ignored">Alarms raised in spans to be ignored; counted nowhere else.</param>
/// <param name="Elsewhere">Alarms raised where nobody said anything.</param>
/// <remarks>
/// A fault is found by an alarm of its machine that is raised within its span, or shortly before and stands at its begin. Work that comes round by
/// the calendar or the hour meter finds no fault and is never false.
/// </remarks>
public sealed record AnnotationScore(IReadOnlyList<AnnotatedFault> Faults, IReadOnlyList<RaisedAlarm> FalseAlarms, int Ignored, int Elsewhere)
{
    public int Found => Faults.Count(f => f.FoundBy is not null);

    public int Missed => Faults.Count - Found;

    /// <param name="before">How long before a fault's span an alarm may be raised that tells of it.</param>
    public static AnnotationScore Of(IReadOnlyList<Annotation> annotations, IReadOnlyList<RaisedAlarm> alarms, TimeSpan before)
    {
        var counted = alarms.Where(a => a.Condition is not (Conditions.ServiceDue or Conditions.WaterTrapDue or Conditions.TubeLife))
            .OrderBy(a => a.Raised).ToList();
        var ignored = counted.Where(a => In(annotations, AnnotationKind.Ignore, a)).ToHashSet();
        counted.RemoveAll(ignored.Contains);
        List<AnnotatedFault> faults =
        [
            .. annotations.Where(x => x.Kind == AnnotationKind.Faulty).OrderBy(x => x.From).ThenBy(x => x.Machine, StringComparer.Ordinal)
                .Select(x => new AnnotatedFault(x, counted.FirstOrDefault(a => TellsOf(x, a, before)))),
        ];
        // Where two people differ, the fault holds: an alarm that tells of one is not false.
        var telling = counted.Where(a => annotations.Any(x => x.Kind == AnnotationKind.Faulty && TellsOf(x, a, before))).ToHashSet();
        var rest = counted.Where(a => !telling.Contains(a)).ToList();
        List<RaisedAlarm> untrue = [.. rest.Where(a => In(annotations, AnnotationKind.Good, a))];
        return new(faults, untrue, ignored.Count, rest.Count - untrue.Count);
    }

    private static bool TellsOf(Annotation fault, RaisedAlarm alarm, TimeSpan before) => alarm.Machine == fault.Machine
        && (fault.Covers(alarm.Raised) || (alarm.Raised < fault.From && alarm.Raised >= fault.From - before && alarm.Until > fault.From));

    private static bool In(IReadOnlyList<Annotation> annotations, AnnotationKind kind, RaisedAlarm alarm) =>
        annotations.Any(x => x.Kind == kind && x.Machine == alarm.Machine && x.Covers(alarm.Raised));
}
