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
    string? By = null);
