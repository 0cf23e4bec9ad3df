using LaserWatch.Alarms;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Rehearsal;

public class AlarmKeepingTests
{
    private static readonly Instant End = Instant.FromUnixSeconds(1000);

    private static AlarmChange Change(double at, AlarmState state, AlarmPriority priority = AlarmPriority.Medium, bool latched = false) => new(
        Instant.FromUnixSeconds(at), "bay1", Conditions.CoolantHot, state, priority, null, null, "", null, "hot",
        latched ? [new Evidence(AlarmChange.LatchedEvidence, "yes")] : [], []);

    private static IReadOnlyList<RaisedAlarm> Kept(params AlarmChange[] changes)
    {
        var keeping = new AlarmKeeping();
        foreach (var change in changes)
            keeping.Take(change);
        return keeping.Until(End);
    }

    [Fact]
    public void An_alarm_goes_from_raised_to_over_with_its_highest_priority() => Assert.Equal(
        [new RaisedAlarm("bay1", Conditions.CoolantHot, Instant.FromUnixSeconds(10), Instant.FromUnixSeconds(40), Instant.FromUnixSeconds(40), AlarmPriority.High)],
        Kept(
            Change(10, AlarmState.Unacknowledged), Change(20, AlarmState.Unacknowledged, AlarmPriority.High), Change(30, AlarmState.Acknowledged),
            Change(40, AlarmState.Normal)));

    [Fact]
    public void What_still_stands_at_the_end_has_not_ended() => Assert.Equal(
        [new RaisedAlarm("bay1", Conditions.CoolantHot, Instant.FromUnixSeconds(10), null, End, AlarmPriority.Medium)],
        Kept(Change(10, AlarmState.Unacknowledged)));

    [Fact]
    public void A_latched_alarm_whose_condition_is_over_is_over() =>
        Assert.Equal(TimeSpan.FromSeconds(20), Assert.Single(Kept(Change(10, AlarmState.Unacknowledged), Change(30, AlarmState.Acknowledged, latched: true))).Length);

    [Fact]
    public void Raised_again_after_it_was_suppressed_it_is_another_alarm() => Assert.Equal(
        [10.0, 50.0],
        Kept(Change(10, AlarmState.Unacknowledged), Change(20, AlarmState.SuppressedByDesign), Change(50, AlarmState.Unacknowledged)).Select(a => a.Raised.SecondsSince(default)));
}
