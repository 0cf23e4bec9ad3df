namespace LaserWatch.Alarms;

public class RetryPolicyTests
{
    private static readonly RetryPolicy Four = new(TimeSpan.FromSeconds(1), TimeSpan.FromSeconds(5), Attempts: 5);

    [Fact]
    public void Waits_double_up_to_the_longest_and_then_it_is_given_up() => Assert.Equal(
        [1, 2, 4, 5, null], Enumerable.Range(1, 5).Select(failures => Four.Wait(failures)?.TotalSeconds));

    [Fact]
    public void What_must_not_be_lost_is_never_given_up() => Assert.Equal(TimeSpan.FromSeconds(10), RetryPolicy.Forever.Wait(int.MaxValue));

    [Fact]
    public void Without_a_failure_there_is_no_wait_to_ask_for() => Assert.Throws<ArgumentOutOfRangeException>(() => Four.Wait(0));
}
