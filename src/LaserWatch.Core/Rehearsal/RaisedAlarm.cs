using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Rehearsal;

/// <summary>One alarm from when it was raised to when its condition was over.</summary>
/// <param name="Ended">Null: it still stood when the recording ended.</param>
/// <param name="Until">When it ended, or the recording did.</param>
/// <param name="Priority">The highest it had.</param>
public sealed record RaisedAlarm(string Machine, string Condition, Instant Raised, Instant? Ended, Instant Until, AlarmPriority Priority)
{
    public TimeSpan Length => Until - Raised;

    /// <summary>Stood at some time within the bounds, the far one not included.</summary>
    public bool Touches(Instant from, Instant to) => Raised < to && (Until > from || Raised >= from);
}
