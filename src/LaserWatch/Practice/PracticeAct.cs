using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

public enum PracticeActKind
{
    Acknowledge,

    /// <summary>A channel's latest value, beside what the job's record and earlier runs say.</summary>
    AskReading,

    LookAtTrend,
    NameCause,
    Check,
    StopJob,
    SayNothingIsWrong,
    GiveUp,

    /// <summary>Ends the practice; the cause named last is the answer.</summary>
    Finish,
}

/// <summary>What a trainee does.</summary>
/// <param name="On">The condition, channel, cause or check; null where the act has no object.</param>
public readonly record struct PracticeAct(PracticeActKind Kind, string? On = null);

/// <summary>An act that was done, or refused because its object is not known here.</summary>
/// <param name="At">The recording's time.</param>
/// <param name="Answer">What the trainee is told.</param>
/// <param name="IsTaken">False: the act could not be done and counts for nothing.</param>
/// <param name="Finds">Of a check: it finds the true cause. Of a cause or "nothing is wrong": it is true.</param>
/// <param name="IsFalse">Of an acknowledgement: there was nothing to acknowledge.</param>
public sealed record DoneAct(PracticeAct Act, Instant At, string Answer, bool IsTaken, bool Finds = false, bool IsFalse = false);
