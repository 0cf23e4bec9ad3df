using LaserWatch.Telemetry;

namespace LaserWatch.Rehearsal;

/// <summary>What becomes of an alarm when settings A are changed for B.</summary>
public enum AlarmFate
{
    /// <summary>Raised at the same time, as long and of the same priority.</summary>
    Same,

    /// <summary>Raised under both, but at another time, for longer or shorter, or of another priority.</summary>
    Changed,

    /// <summary>Only A raises it.</summary>
    Vanishes,

    /// <summary>Only B raises it.</summary>
    Appears,
}

/// <summary>An alarm as it is under A and under B; one of the two may be null.</summary>
public sealed record AlarmPair(RaisedAlarm? A, RaisedAlarm? B)
{
    private RaisedAlarm Either => A ?? B ?? throw new InvalidOperationException("A pair of alarms holds one at least.");

    public string Machine => Either.Machine;

    public string Condition => Either.Condition;

    public Instant Raised => A is { } a && B is { } b && b.Raised < a.Raised ? b.Raised : Either.Raised;

    public AlarmFate Fate => A is null ? AlarmFate.Appears
        : B is null ? AlarmFate.Vanishes
        : MovedBy != TimeSpan.Zero || LongerBy != TimeSpan.Zero || A.Priority != B.Priority || (A.Ended is null) != (B.Ended is null) ? AlarmFate.Changed
        : AlarmFate.Same;

    /// <summary>How much later B raises it; negative: earlier. Null where only one does.</summary>
    public TimeSpan? MovedBy => A is null || B is null ? null : B.Raised - A.Raised;

    /// <summary>How much longer it stands under B; negative: shorter. Null where only one raises it.</summary>
    public TimeSpan? LongerBy => A is null || B is null ? null : B.Length - A.Length;

    public bool PriorityChanged => A is not null && B is not null && A.Priority != B.Priority;

    /// <summary>The same with A and B changed over.</summary>
    public AlarmPair Mirrored => new(B, A);
}
