using CsCheck;
using LaserWatch.Rules;

namespace LaserWatch.Alarms;

public class AlarmOrderTests
{
    [Fact]
    public void What_another_explains_stands_beneath_it_though_its_priority_is_higher()
    {
        var cause = FloodWatchTests.Raised("bay1", "hall-out-of-limits", 1, AlarmPriority.Low);
        var effect = FloodWatchTests.Raised("bay1", Conditions.CoolantHot, 0, AlarmPriority.Urgent) with
        {
            Evidence = [new Evidence(AlarmChange.ExplainedByEvidence, "hall-out-of-limits")],
        };

        Assert.Equal([new PlacedAlarm(cause, null, 0), new PlacedAlarm(effect, cause, 1)], AlarmOrder.RootsFirst([effect, cause]));
    }

    [Fact]
    public void A_cause_stands_first_though_it_came_later() => Assert.Equal(
        [Conditions.CoolantHot, Conditions.CoolantDrift],
        AlarmOrder.RootsFirst(
            [FloodWatchTests.Raised("bay1", Conditions.CoolantDrift, 0, AlarmPriority.Urgent), FloodWatchTests.Raised("bay1", Conditions.CoolantHot, 1)])
            .Select(p => p.Change.Condition));

    [Fact]
    public void Whatever_the_table_holds_one_condition_explains_another_or_does_not()
    {
        Assert.True(Dependencies.Explains(Conditions.CoolantFlowLow, Conditions.TubeCurrentSag)); // by way of hot coolant
        Assert.False(Dependencies.Explains(Conditions.AirPressureLost, Conditions.CoolantHot));
        Assert.All(Conditions.All, c => Assert.Equal(0, Conditions.All.Count(e => Dependencies.Explains(c, e) && Dependencies.CausesOf(e).Any() == false)));
    }

    [Fact]
    public void Another_machines_alarm_explains_nothing() => Assert.All(
        AlarmOrder.RootsFirst(
            [FloodWatchTests.Raised("bay1", Conditions.CoolantHot, 0), FloodWatchTests.Raised("bay2", Conditions.CoolantFlowLow, 0)]),
        placed => Assert.Equal((null, 0), (placed.Cause, placed.Depth)));

    [Fact]
    public void Every_alarm_has_one_place_right_behind_its_cause_or_its_causes_other_effects()
    {
        var condition = Gen.Int[0, Conditions.All.Count - 1].Select(i => Conditions.All[i]);
        var alarm = Gen.Select(Gen.Int[1, 3], condition, Gen.Int[0, 20], Gen.Enum<AlarmPriority>(), condition, Gen.Bool)
            .Select((machine, what, at, priority, told, tells) => FloodWatchTests.Raised($"bay{machine}", what, at, priority) with
            {
                Evidence = tells ? [new Evidence(AlarmChange.ExplainedByEvidence, told)] : [],
            });
        alarm.Array[0, 30].Sample(alarms =>
        {
            var placed = AlarmOrder.RootsFirst(alarms);

            Assert.Equal(
                alarms.Select(a => (a.Machine, a.Condition)).Distinct().Order(),
                placed.Select(p => (p.Change.Machine, p.Change.Condition)).Order());
            for (var i = 0; i < placed.Count; i++)
            {
                Assert.Equal(placed[i].Depth == 0, placed[i].Cause is null);
                Assert.True(placed[i].Cause is null || placed[i].Cause!.Machine == placed[i].Change.Machine);
            }

            var roots = placed.Where(p => p.Depth == 0).Select(p => p.Change).ToList();
            Assert.Equal(roots.OrderByDescending(r => r.Priority).ThenBy(r => r.Time).Select(r => (r.Priority, r.Time)), roots.Select(r => (r.Priority, r.Time)));
        });
    }
}
