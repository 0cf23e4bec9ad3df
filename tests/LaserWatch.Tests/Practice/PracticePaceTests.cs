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
        pace.IsPaused = true;
        _clock.Advance(TimeSpan.FromSeconds(0.5));
        Assert.Equal(TimeSpan.Zero, pace.Take(isHeld: false));
        pace.IsPaused = false;
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
    public void The_steps_of_speed_end_at_both_ends()
    {
        var pace = new PracticePace(30, _clock);
        pace.Faster();
        Assert.Equal(50, pace.Speed);
        pace.Slower();
        Assert.Equal(20, pace.Speed);
        for (var i = 0; i < 20; i++)
            pace.Faster();
        Assert.Equal(PracticePace.Fastest, pace.Speed);
        for (var i = 0; i < 20; i++)
            pace.Slower();
        Assert.Equal(PracticePace.Slowest, pace.Speed);
    }
}
