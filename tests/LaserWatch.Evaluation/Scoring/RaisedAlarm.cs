using LaserWatch.Alarms;

namespace LaserWatch.Evaluation.Scoring;

/// <summary>An alarm that came up: it was not standing before.</summary>
internal sealed class RaisedAlarm(double time, Clocks clocks, AlarmChange change)
{
    /// <summary>Seconds since the scenario's beginning.</summary>
    public double Time { get; } = time;

    public Clocks Clocks { get; } = clocks;

    public AlarmChange Change { get; } = change;

    public string Condition => Change.Condition;

    public bool IsAboveLow => Change.Priority > AlarmPriority.Low;

    /// <summary>The true state of the machine was as the alarm says, whatever the cause: coolant past its limit, and so on.</summary>
    public bool IsSo { get; set; }
}
