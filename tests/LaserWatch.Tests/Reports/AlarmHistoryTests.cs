using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

public class AlarmHistoryTests
{
    private static readonly Instant Begin = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    [Fact]
    public void The_time_to_acknowledge_is_from_the_raising_whether_it_had_returned_or_not()
    {
        var alarms = AlarmHistory.Of(
        [
            At(0, AlarmState.Unacknowledged), At(40, AlarmState.Acknowledged, by: "ana"), At(90, AlarmState.Normal),
            At(1000, AlarmState.Unacknowledged), At(1010, AlarmState.ReturnedUnacknowledged), At(1100, AlarmState.Normal, by: "ana"),
            At(2000, AlarmState.Unacknowledged), At(2005, AlarmState.ReturnedUnacknowledged),
        ], Begin + TimeSpan.FromHours(1));

        Assert.Equal([40.0, 100.0, null], alarms.Occurrences.Select(alarm => alarm.Acknowledged?.SecondsSince(alarm.Raised)));
        Assert.Equal([90.0, 10.0, 5.0], alarms.Occurrences.Select(alarm => alarm.Returned!.Value.SecondsSince(alarm.Raised)));
        Assert.Equal([new Acknowledgement(AlarmPriority.Medium, 3, 2, 0, 1, 70, 100)], alarms.ByPriority);
        Assert.Equal([new ConditionCount("coolant-hot", AlarmPriority.Medium, 3, Begin, Begin + TimeSpan.FromSeconds(2000), 105)], alarms.ByCondition);
    }

    [Fact]
    public void An_alarm_that_grows_worse_is_one_alarm_of_the_higher_priority()
    {
        var alarms = AlarmHistory.Of([At(0, AlarmState.Unacknowledged), At(10, AlarmState.Acknowledged, by: "ana"), At(20, AlarmState.Unacknowledged, AlarmPriority.Urgent)], Begin + TimeSpan.FromSeconds(50));

        Assert.Equal([(AlarmPriority.Urgent, (Instant?)null)], alarms.Occurrences.Select(alarm => (alarm.Priority, alarm.Returned)));
        Assert.Equal(50, alarms.ByCondition[0].StandingSeconds);
    }

    [Fact]
    public void An_alarm_that_was_put_aside_was_seen_but_not_acknowledged() =>
        Assert.Equal(
            [new Acknowledgement(AlarmPriority.Medium, 1, 0, 1, 0, null, null)],
            AlarmHistory.Of([At(0, AlarmState.Unacknowledged), At(10, AlarmState.Shelved, by: "ana"), At(1000, AlarmState.Normal)], Begin).ByPriority);

    private static AlarmChange At(double seconds, AlarmState state, AlarmPriority priority = AlarmPriority.Medium, string? by = null) =>
        new(Begin + TimeSpan.FromSeconds(seconds), "bay1", "coolant-hot", state, priority, 31, 30, "°C", null, "hot", [], [], by);
}
