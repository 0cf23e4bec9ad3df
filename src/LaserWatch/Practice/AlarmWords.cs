using LaserWatch.Alarms;

namespace LaserWatch.Practice;

/// <summary>An alarm's change in one sentence, its state and priority in words.</summary>
internal static class AlarmWords
{
    /// <summary>What a person did himself he is not told again.</summary>
    public static bool IsNews(AlarmChange change) => change.By is null;

    public static string Of(AlarmChange change) =>
        $"alarm {change.Condition}: {change.State.Name()}, priority {change.Priority.Name()}{(change.State == AlarmState.Unacknowledged ? $": {TextFlow.Harmless(change.Message)}" : "")}";
}
