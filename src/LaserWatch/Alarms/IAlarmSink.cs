namespace LaserWatch.Alarms;

/// <summary>Where an alarm goes.</summary>
public interface IAlarmSink
{
    /// <summary>For the log.</summary>
    string Name { get; }

    /// <summary>Returns when the other side has it.</summary>
    /// <param name="restated">
    /// True: a state that was told before, said again after a restart. A sink that shows what stands shows it; one that calls
    /// somebody leaves it out.
    /// </param>
    /// <exception cref="Exception">It could not be delivered now; it is tried again.</exception>
    Task DeliverAsync(AlarmChange change, bool restated, CancellationToken stop);
}
