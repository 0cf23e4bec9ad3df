using LaserWatch.Alarms;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>One readable log line for each transition of an alarm: what it is, and what to look at first.</summary>
public static class AlarmLine
{
    public static void Write(ILogger logger, AlarmChange change)
    {
        var state = change.State.Name();
        var priority = change.Priority.Name();
        if (change.State == AlarmState.Unacknowledged)
            logger.AlarmRaised(change.Machine, change.Condition, state, priority, change.Message, FirstCheck(change));
        else
            logger.AlarmChanged(change.Machine, change.Condition, state, priority, change.Message);
    }

    private static string FirstCheck(AlarmChange change) => change.Checks.Count > 0 ? $". Check first: {change.Checks[0]}" : "";
}
