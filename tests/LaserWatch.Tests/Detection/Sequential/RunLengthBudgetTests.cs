namespace LaserWatch.Statistics;

public class RunLengthBudgetTests
{
    [Fact]
    public void One_false_alarm_in_two_years_of_a_thousand_hours_over_five_charts_of_minutes() =>
        Assert.Equal(600_000, new RunLengthBudget(2, 1000, 5).RunLength(TimeSpan.FromMinutes(1)), 1e-6);

    [Theory]
    [InlineData(0, 1000, 1, 60)]
    [InlineData(1, 0, 1, 60)]
    [InlineData(1, 1000, 0, 60)]
    [InlineData(1, 1000, 1, 0)]
    public void A_budget_of_nothing_is_refused(double years, double hours, int charts, double seconds) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new RunLengthBudget(years, hours, charts).RunLength(TimeSpan.FromSeconds(seconds)));
}
