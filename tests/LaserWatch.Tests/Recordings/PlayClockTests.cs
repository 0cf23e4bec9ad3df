using CsCheck;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Recordings;

public sealed class PlayClockTests
{
    private static readonly Instant First = new(1_773_041_400_000_000_000);
    private static readonly TimeSpan Hour = TimeSpan.FromHours(1);

    private readonly FakeTimeProvider _time = new(new DateTimeOffset(2026, 11, 25, 8, 0, 0, TimeSpan.Zero));

    private Instant Now => Instant.From(_time.GetUtcNow());

    [Fact]
    public void At_1x_the_times_begin_now_and_run_with_the_clock()
    {
        var clock = Clock(1);

        Assert.Equal(Now, clock.Stamp(First));
        _time.Advance(TimeSpan.FromMinutes(10));
        Assert.Equal((First + TimeSpan.FromMinutes(10), Now), (clock.Place, clock.Stamp(First + TimeSpan.FromMinutes(10))));
    }

    [Fact]
    public void At_60x_an_hour_is_sent_in_a_minute_and_its_last_message_bears_the_time_it_is_sent_at()
    {
        var clock = Clock(60);
        var began = Now;

        Assert.Equal(began + TimeSpan.FromMinutes(1) - Hour, clock.Stamp(First));
        Assert.Equal(TimeSpan.FromSeconds(30), clock.Until(First + (Hour / 2)));
        _time.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal((TimeSpan.Zero, Now), (clock.Until(First + Hour), clock.Stamp(First + Hour)));
        Assert.False(clock.IsHeldBack);
    }

    [Fact]
    public void As_fast_as_it_can_the_times_end_at_the_start()
    {
        var clock = Clock(double.PositiveInfinity);

        Assert.Equal((TimeSpan.Zero, Now), (clock.Until(First + Hour), clock.Stamp(First + Hour)));
        Assert.Equal(Now - Hour, clock.Stamp(First));
    }

    [Fact]
    public void Original_times_are_left_as_they_are()
    {
        var clock = new PlayClock(First, Hour, 10, Retiming.Original, _time);
        clock.MoveTo(First + TimeSpan.FromMinutes(5));

        Assert.Equal(First + TimeSpan.FromMinutes(6), clock.Stamp(First + TimeSpan.FromMinutes(6)));
    }

    [Fact]
    public void What_is_held_passes_for_the_times_too_but_not_for_the_place()
    {
        var clock = Clock(60);
        _time.Advance(TimeSpan.FromSeconds(10));
        clock.Hold();
        var (place, told) = (clock.Place, clock.Stamp(clock.Place));
        _time.Advance(TimeSpan.FromSeconds(5));

        Assert.Null(clock.Until(place + TimeSpan.FromSeconds(1)));
        Assert.Equal(TimeSpan.Zero, clock.Until(place));
        clock.Go();
        Assert.Equal((place, told + TimeSpan.FromSeconds(5)), (clock.Place, clock.Stamp(clock.Place)));
    }

    [Fact]
    public void Faster_than_at_the_start_the_times_run_with_the_clock_and_no_further()
    {
        var clock = Clock(1);
        _time.Advance(TimeSpan.FromSeconds(10));
        clock.Play(10);
        _time.Advance(TimeSpan.FromSeconds(10));

        Assert.Equal(First + TimeSpan.FromSeconds(110), clock.Place);
        Assert.Equal(Now, clock.Stamp(clock.Place));
        Assert.Equal(Now - TimeSpan.FromSeconds(1), clock.Stamp(clock.Place - TimeSpan.FromSeconds(10)));
        Assert.True(clock.IsHeldBack);
    }

    [Fact]
    public void Where_the_first_event_tells_the_begin_the_wait_for_it_is_not_played()
    {
        var clock = new PlayClock(null, TimeSpan.Zero, 1, Retiming.Now, _time);
        _time.Advance(TimeSpan.FromSeconds(30));
        clock.Meet(First);

        Assert.Equal((First, Now), (clock.Place, clock.Stamp(First)));
    }

    /// <summary>What is done: 0 wait, 1 hold, 2 go, 3 another pace, 4 another place.</summary>
    private static readonly Gen<List<(int What, double Number)>> Doings =
        Gen.Select(Gen.Int[0, 4], Gen.Double[0.001, 1]).List[1, 40];

    [Fact]
    public void Whatever_is_done_the_times_never_go_back_and_never_pass_the_clock()
    {
        Gen.Select(Doings, Gen.Int[0, 3].Select(i => new[] { 1.0, 7, 1000, double.PositiveInfinity }[i])).Sample((doings, speed) =>
        {
            var time = new FakeTimeProvider(_time.GetUtcNow());
            var clock = new PlayClock(First, Hour, speed, Retiming.Now, time);
            var newest = Instant.MinValue;
            foreach (var (what, number) in doings)
            {
                Do(clock, time, what, number);
                var now = Instant.From(time.GetUtcNow());
                var told = clock.Stamp(clock.Place);
                Assert.True(told >= newest - Rounding, $"{told} after {newest}");
                Assert.True(told <= now + Rounding, $"{told} at {now}");
                newest = told;
            }
        }, iter: 2000);
    }

    // Times are in steps of 100 ns, and a place is worked out in floating point.
    private static readonly TimeSpan Rounding = TimeSpan.FromMilliseconds(0.01);

    private static void Do(PlayClock clock, FakeTimeProvider time, int what, double number)
    {
        switch (what)
        {
            case 0:
                time.Advance(TimeSpan.FromSeconds(100 * number));
                break;
            case 1:
                clock.Hold();
                break;
            case 2:
                clock.Go();
                break;
            case 3:
                clock.Play(1000 * number);
                break;
            default:
                clock.MoveTo(First + (Hour * number));
                break;
        }
    }

    private PlayClock Clock(double speed) => new(First, Hour, speed, Retiming.Now, _time);
}
