using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

public enum AlarmCommandKind
{
    Acknowledge,
    Shelve,
    Unshelve,
    OutOfService,
    InService,

    /// <summary>Lets a latched alarm go, once its condition is over.</summary>
    Reset,
}

/// <summary>What a person asked of an alarm.</summary>
/// <param name="For">How long to shelve; null for the other commands.</param>
public sealed record AlarmCommand(
    string Machine, Instant At, AlarmCommandKind Kind, string Condition, string By, TimeSpan? For = null, string? Why = null);
