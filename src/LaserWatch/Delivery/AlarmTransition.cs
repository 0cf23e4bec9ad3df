using LaserWatch.Alarms;

namespace LaserWatch.Delivery;

/// <summary>What an alarm's change is to somebody who is told of it.</summary>
public enum AlarmTransition
{
    Raised,
    Ended,
    Acknowledged,

    /// <summary>Shelved, suppressed by design or taken out of service.</summary>
    SetAside,
}

/// <summary>What kind of transition a change is.</summary>
internal static class AlarmTransitions
{
    /// <param name="before">The state before it, as far as it is known; null: none was.</param>
    /// <returns>Null where the change tells nobody anything: normal, and never anything else.</returns>
    public static AlarmTransition? Of(AlarmChange change, AlarmChange? before) => change.State switch
    {
        _ when change.IsLatched => IsOver(before) ? AlarmTransition.Acknowledged : AlarmTransition.Ended,
        AlarmState.Unacknowledged => AlarmTransition.Raised,
        AlarmState.Acknowledged => AlarmTransition.Acknowledged,
        AlarmState.ReturnedUnacknowledged => AlarmTransition.Ended,
        AlarmState.Normal when before?.State == AlarmState.Normal => null,
        AlarmState.Normal => IsOver(before) ? AlarmTransition.Acknowledged : AlarmTransition.Ended,
        _ => AlarmTransition.SetAside,
    };

    /// <summary>Nobody needs to be called any more: it is acknowledged, set aside, or over.</summary>
    public static bool IsAttendedTo(AlarmChange change) => change.State != AlarmState.Unacknowledged || change.IsLatched;

    /// <summary>The condition itself is over, whether or not somebody has seen it.</summary>
    public static bool IsOver(AlarmChange? change) =>
        change is not null && (change.IsLatched || change.State is AlarmState.Normal or AlarmState.ReturnedUnacknowledged);
}
