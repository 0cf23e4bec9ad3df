using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

public class LogThrottleTests
{
    private static readonly Instant Start = Instant.FromUnixSeconds(1_773_043_200);

    private readonly LogThrottle<string> _throttle = new(TimeSpan.FromMinutes(1), mostKeys: 2);

    [Fact]
    public void A_key_speaks_once_a_minute_and_says_how_often_it_was_held_back()
    {
        var spoken = new List<(int Second, long HeldBack)>();
        for (var second = 0; second < 130; second++)
        {
            if (_throttle.MaySpeak("a", Start + TimeSpan.FromSeconds(second), out var heldBack))
                spoken.Add((second, heldBack));
        }

        Assert.Equal([(0, 0L), (60, 59L), (120, 59L)], spoken);
    }

    [Fact]
    public void Keys_beyond_the_bound_are_held_back_until_another_has_had_its_minute()
    {
        Assert.True(_throttle.MaySpeak("a", Start, out _));
        Assert.True(_throttle.MaySpeak("b", Start + TimeSpan.FromSeconds(30), out _));
        Assert.False(_throttle.MaySpeak("c", Start + TimeSpan.FromSeconds(59), out _));
        Assert.True(_throttle.MaySpeak("c", Start + TimeSpan.FromSeconds(60), out _));
        Assert.False(_throttle.MaySpeak("a", Start + TimeSpan.FromSeconds(61), out _));
    }

    [Fact]
    public void A_clock_that_is_set_back_does_not_silence_a_key()
    {
        Assert.True(_throttle.MaySpeak("a", Start, out _));
        Assert.True(_throttle.MaySpeak("a", Start - TimeSpan.FromHours(1), out _));
    }
}
