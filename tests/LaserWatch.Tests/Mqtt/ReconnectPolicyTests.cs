using CsCheck;

namespace LaserWatch.Mqtt;

public class ReconnectPolicyTests
{
    [Fact]
    public void Every_wait_lies_between_half_and_the_whole_of_the_doubled_wait_and_never_beyond_the_longest() =>
        Gen.Select(Gen.Int, Gen.Int[1, 1000]).Sample((seed, failures) =>
        {
            var whole = Math.Min(0.5 * Math.Pow(2, failures - 1), 30);
            var wait = new ReconnectPolicy(new Random(seed)).Wait(failures).TotalSeconds;
            return wait >= (whole / 2) - 1e-6 && wait <= whole + 1e-6;
        });

    [Fact]
    public void The_same_seed_gives_the_same_waits_and_another_gives_others()
    {
        static TimeSpan[] Waits(int seed)
        {
            var policy = new ReconnectPolicy(new Random(seed));
            return [.. Enumerable.Range(1, 8).Select(policy.Wait)];
        }

        Assert.Equal(Waits(1), Waits(1));
        Assert.NotEqual(Waits(1), Waits(2));
    }

    [Fact]
    public void Without_a_failure_there_is_no_wait_to_ask_for() =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new ReconnectPolicy(new Random(1)).Wait(0));

    [Fact]
    public void A_connection_that_lasted_ends_the_row_of_failures_and_one_that_did_not_lengthens_it()
    {
        Assert.Equal(1, ReconnectPolicy.AfterConnection(5, TimeSpan.FromSeconds(10)));
        Assert.Equal(6, ReconnectPolicy.AfterConnection(5, TimeSpan.FromSeconds(9.9)));
    }
}
