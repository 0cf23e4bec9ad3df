using LaserWatch.Alarms;

namespace LaserWatch.Rules;

/// <summary>What an alarm has to say, made only when it changes.</summary>
public sealed record Finding(
    AlarmPriority Priority, string Unit, string Message, IReadOnlyList<Evidence> Evidence, IReadOnlyList<string> Checks);
