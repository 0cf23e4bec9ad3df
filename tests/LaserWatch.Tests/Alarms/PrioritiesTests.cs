using LaserWatch.Rules;

namespace LaserWatch.Alarms;

public class PrioritiesTests
{
    [Fact]
    public void Every_rule_says_why_it_has_its_priority() =>
        Assert.All(RuleBook.Sheets, sheet => Assert.NotEmpty(sheet.Weights));

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
        Assert.Equal(priority, RuleBook.Find(condition)!.PriorityOf(degree));

    [Fact]
    public void Urgent_is_kept_for_few() =>
        Assert.InRange(RuleBook.Sheets.SelectMany(s => s.Weights).Count(w => Priorities.Of(w.Consequence, w.Time) == AlarmPriority.Urgent), 1, 2);

    [Fact]
    public void A_line_that_is_not_there_is_a_fault_of_the_program() =>
        Assert.Throws<ArgumentException>(() => RuleBook.Find(Conditions.ServiceDue)!.PriorityOf(Degree.Severe));
}
