using System.Globalization;
using System.Text;
using LaserWatch.Proof;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>One observation behind an alarm: a number, or words.</summary>
public readonly record struct Evidence(string Name, double? Number, string? Text)
{
    public Evidence(string name, double number) : this(name, number, null) { }

    public Evidence(string name, string text) : this(name, null, text) { }
}

/// <summary>One transition of one alarm. <see cref="Time"/> is the time of the sample that made it.</summary>
/// <param name="Value">What was measured, in <paramref name="Unit"/>; null where the condition has no single value.</param>
/// <param name="Limit">What it was held against, in <paramref name="Unit"/>.</param>
/// <param name="Job">The job under way, if one was and it is known.</param>
/// <param name="Checks">What to look at first, in order.</param>
/// <param name="By">Who acknowledged, shelved or took out of service; null where the machine's own state did it.</param>
public sealed record AlarmChange(
    Instant Time, string Machine, string Condition, AlarmState State, AlarmPriority Priority, double? Value, double? Limit,
    string Unit, string? Job, string Message, IReadOnlyList<Evidence> Evidence, IReadOnlyList<string> Checks,
    string? By = null)
{
    /// <summary>Evidence of an alarm that waits for a person though its condition is over: it needs a reset.</summary>
    public const string LatchedEvidence = "latched";

    /// <summary>Evidence of an alarm that another one explains; its text is the other one's condition.</summary>
    public const string ExplainedByEvidence = "explained_by";

    /// <summary>Evidence of a shelved alarm: when shelving ends.</summary>
    public const string ShelvedUntilEvidence = "shelved_until";

    /// <summary>Evidence that the alarm is of a replayed recording, and of no real machine.</summary>
    public const string TrainingEvidence = "training";

    /// <summary>The alarm is of a replayed recording.</summary>
    public bool IsTraining => TextOf(TrainingEvidence) is not null;

    /// <summary>The standing alarm, of the same machine, that this one is a consequence of; null where there is none.</summary>
    public string? ExplainedBy => TextOf(ExplainedByEvidence);

    /// <summary>The condition is over, and the alarm waits for a person to reset it.</summary>
    public bool IsLatched => TextOf(LatchedEvidence) is not null;

    /// <summary>
    /// The transition's name wherever it goes: 32 hex digits, the same when a replay or a restarted agent finds the same transition
    /// again, so that a receiver can tell a second copy.
    /// </summary>
    public string Id() => Digest.Of(Encoding.UTF8.GetBytes(string.Create(
        CultureInfo.InvariantCulture, $"{Machine}/{Condition}/{State.Name()}/{Priority.Name()}/{Time.UnixNanoseconds}"))).ToString()[..32];

    /// <summary>The same, marked so that nobody who gets it, wherever, takes it for a real machine's.</summary>
    public AlarmChange AsTraining() => IsTraining ? this : this with
    {
        Message = "Training, no real machine: " + Message,
        Evidence = [.. Evidence, new(TrainingEvidence, "a replayed recording")],
    };

    private string? TextOf(string name)
    {
        for (var i = 0; i < Evidence.Count; i++)
        {
            if (Evidence[i].Name == name)
                return Evidence[i].Text;
        }

        return null;
    }
}
