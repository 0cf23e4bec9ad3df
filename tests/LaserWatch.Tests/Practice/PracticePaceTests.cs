using LaserWatch.Recordings;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Practice;

public class PracticePaceTests
{
    private readonly FakeTimeProvider _clock = new();

    [Fact]
    public void At_twenty_times_half_a_second_is_ten()
    {
        var pace = new PracticePace(20, _clock);
        _clock.Advance(TimeSpan.FromSeconds(0.5));
        Assert.Equal(TimeSpan.FromSeconds(10), pace.Take(isHeld: false));
        Assert.Equal(TimeSpan.Zero, pace.Take(isHeld: false));
    }

    [Fact]
    public void Time_that_stood_is_not_made_up_for()
    {
        var pace = new PracticePace(20, _clock);
        _clock.Advance(TimeSpan.FromSeconds(0.5));
        Assert.Equal(TimeSpan.Zero, pace.Take(isHeld: true));
        pace.IsHeld = true;
        _clock.Advance(TimeSpan.FromSeconds(0.5));
        Assert.Equal(TimeSpan.Zero, pace.Take(isHeld: false));
        pace.IsHeld = false;
        _clock.Advance(TimeSpan.FromSeconds(0.1));
        Assert.Equal(TimeSpan.FromSeconds(2), pace.Take(isHeld: false));
    }

    [Fact]
    public void After_the_process_itself_slept_it_goes_on_by_one_second()
    {
        var pace = new PracticePace(20, _clock);
        _clock.Advance(TimeSpan.FromHours(8));
        Assert.Equal(TimeSpan.FromSeconds(20), pace.Take(isHeld: false));
    }

    [Fact]
    public void The_keys_1_to_9_are_rising_paces_within_what_may_be_asked_for()
    {
        var paces = "123456789".Select(key => PaceKeys.Of(key)!.Value).ToList();

        Assert.Equal(paces.Order().Distinct(), paces);
        Assert.Equal((PracticePace.Slowest, PracticePace.Fastest), (paces[0], paces[^1]));
        Assert.All("0+- hq", key => Assert.Null(PaceKeys.Of(key)));
    }
}
