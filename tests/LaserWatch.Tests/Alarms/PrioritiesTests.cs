using LaserWatch.Rules;

namespace LaserWatch.Alarms;

public class PrioritiesTests
{
    [Fact]
    public void Every_condition_has_its_line() =>
        Assert.Equal(Conditions.All.Order(), Priorities.Table.Select(row => row.Condition).Distinct().Order());

    [Fact]
    public void More_harm_or_less_time_never_lowers_a_priority()
    {
        foreach (var consequence in Enum.GetValues<Consequence>())
        {
            foreach (var time in Enum.GetValues<TimeToRespond>())
            {
                var priority = Priorities.Of(consequence, time);
                Assert.True(consequence == Consequence.Harm || Priorities.Of(consequence + 1, time) >= priority);
                Assert.True(time == TimeToRespond.Seconds || Priorities.Of(consequence, time + 1) >= priority);
            }
        }
    }

    [Theory]
    [InlineData(Conditions.AirPressureLost, Degree.Plain, AlarmPriority.Urgent)]
    [InlineData(Conditions.AirPressureLow, Degree.Plain, AlarmPriority.High)]
    [InlineData(Conditions.AirPressureLow, Degree.Advice, AlarmPriority.Low)]
    [InlineData(Conditions.AirPathRestricted, Degree.Plain, AlarmPriority.Medium)]
    [InlineData(Conditions.TubeCurrentSag, Degree.Plain, AlarmPriority.Medium)]
    [InlineData(Conditions.TubeCurrentSag, Degree.Severe, AlarmPriority.High)]
    [InlineData(Conditions.CoolantFlowLow, Degree.Severe, AlarmPriority.Urgent)]
    [InlineData(Conditions.ServiceDue, Degree.Plain, AlarmPriority.Low)]
    public void As_the_trade_would_have_it(string condition, Degree degree, AlarmPriority priority) => // common practice, no source
        Assert.Equal(priority, Priorities.Of(condition, degree));

    [Fact]
    public void Urgent_is_kept_for_few() =>
        Assert.InRange(Priorities.Table.Count(row => row.Priority == AlarmPriority.Urgent), 1, 2);

    [Fact]
    public void A_line_that_is_not_there_is_a_fault_of_the_program() =>
        Assert.Throws<ArgumentException>(() => Priorities.Of(Conditions.ServiceDue, Degree.Severe));
}
