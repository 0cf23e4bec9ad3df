using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

public class MachinePaceTests
{
    private static readonly Instant Start = Instant.FromUnixSeconds(1_773_043_200);

    private readonly MachinePace _pace = new();

    private static Instant At(double seconds) => Start + TimeSpan.FromSeconds(seconds);

    [Fact]
    public void A_machine_never_heard_has_no_time() => Assert.Null(_pace.TimeAt(Start));

    [Fact]
    public void A_tick_lags_as_far_as_the_newest_sample_did()
    {
        _pace.Heard(At(-300), arrival: At(0));

        Assert.Equal(At(-290), _pace.TimeAt(At(10)));
    }

    [Fact]
    public void A_late_sample_does_not_set_the_time_back()
    {
        _pace.Heard(At(0), arrival: At(0));
        _pace.Heard(At(-300), arrival: At(1));

        Assert.Equal(At(10), _pace.TimeAt(At(10)));
    }

    [Fact]
    public void Our_time_is_translated_into_that_of_a_sensor_whose_clock_is_ahead_or_behind()
    {
        Assert.Equal(At(5), _pace.Translate(At(5)));
        _pace.Heard(At(30), arrival: At(0));
        Assert.Equal(At(40), _pace.Translate(At(10)));
        Assert.Equal(At(30), _pace.Translate(At(-10)));
    }

    [Fact]
    public void After_an_outage_time_stands_still_for_the_grace()
    {
        _pace.Heard(At(0), arrival: At(0));
        _pace.ReachableSince(At(3600));

        Assert.Null(_pace.TimeAt(At(3659)));
        Assert.Equal(At(3660), _pace.TimeAt(At(3660)));
    }

    [Fact]
    public void When_our_clock_is_set_back_a_tick_is_not_before_the_newest_sample()
    {
        _pace.Heard(At(0), arrival: At(0));

        Assert.Equal(At(0), _pace.TimeAt(At(-3600)));
    }
}
