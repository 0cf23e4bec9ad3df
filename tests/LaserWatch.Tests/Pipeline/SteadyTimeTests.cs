using CsCheck;
using LaserWatch.Fakes;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

public sealed class SteadyTimeTests
{
    private static readonly DateTimeOffset Start = DateTimeOffset.UnixEpoch.AddSeconds(1_773_043_200);

    private readonly SteppedTimeProvider _wall = new(Start);
    private readonly SteadyTime _time;

    public SteadyTimeTests() => _time = new SteadyTime(_wall);

    [Fact]
    public void It_begins_at_the_wall_clock_and_goes_on_by_the_counter()
    {
        _wall.Advance(TimeSpan.FromSeconds(10));

        Assert.Equal(Start.AddSeconds(10), _time.GetUtcNow());
        Assert.Null(_time.Look());
    }

    [Theory]
    [InlineData(1)]
    [InlineData(-1)]
    [InlineData(3600)]
    [InlineData(-86_400)]
    [InlineData(1_800_000_000)]
    public void A_step_of_the_wall_clock_is_told_once_with_its_size_and_moves_no_steady_time(double seconds)
    {
        _wall.Advance(TimeSpan.FromSeconds(10));
        _wall.Step(TimeSpan.FromSeconds(seconds));

        Assert.Equal(Start.AddSeconds(10), _time.GetUtcNow());
        Assert.Equal(new ClockJump(Instant.From(Start.AddSeconds(10)), TimeSpan.FromSeconds(seconds)), _time.Look());
        Assert.Null(_time.Look());
        Assert.Equal(Start.AddSeconds(10), _time.GetUtcNow());
        Assert.Equal(Instant.From(Start.AddSeconds(10 + seconds)), _time.Now);
        Assert.Equal(1, _time.Jumps);
    }

    [Theory]
    [InlineData(0.4)]
    [InlineData(-0.9)]
    public void A_small_difference_is_slewed_away_and_is_no_jump(double seconds)
    {
        _wall.Step(TimeSpan.FromSeconds(seconds));
        for (var i = 0; i < 30; i++)
        {
            _wall.Advance(TimeSpan.FromSeconds(1));
            Assert.Null(_time.Look());
        }

        Assert.Equal(_wall.GetUtcNow(), _time.GetUtcNow());
    }

    [Fact]
    public void Whatever_is_done_to_the_wall_clock_steady_time_never_goes_back_and_stays_with_the_counter() =>
        Gen.Select(Gen.Double[-100_000, 100_000], Gen.Double[0, 3], Gen.Bool).Array[1, 60].Sample(
            steps =>
            {
                var wall = new SteppedTimeProvider(Start);
                var time = new SteadyTime(wall);
                var (passed, last) = (0.0, time.GetUtcNow());
                foreach (var (step, seconds, steps1) in steps)
                {
                    wall.Step(TimeSpan.FromSeconds(steps1 ? step : step / 100_000));
                    wall.Advance(TimeSpan.FromSeconds(seconds));
                    passed += seconds;
                    time.Look();
                    var now = time.GetUtcNow();
                    Assert.True(now >= last);
                    Assert.InRange((now - Start).TotalSeconds - passed, -0.0501 * steps.Length, 0.0501 * steps.Length);
                    Assert.InRange((_ = wall.GetUtcNow() - time.Now.ToDateTimeOffset()).TotalSeconds, -1.001, 1.001);
                    last = now;
                }
            },
            seed: "0N0XIzNsQ0O2", iter: 200);

    [Fact]
    public void Nothing_is_deleted_by_a_clock_that_was_set_forward_until_it_has_held_its_course_for_a_day()
    {
        _wall.Step(TimeSpan.FromDays(3650));
        _time.Look();
        Assert.Equal(Instant.From(Start), _time.CarefulNow);

        _wall.Advance(TimeSpan.FromHours(23));
        Assert.Equal(Instant.From(Start.AddHours(23)), _time.CarefulNow);
        _wall.Advance(TimeSpan.FromHours(1));
        Assert.Equal(Instant.From(Start.AddDays(3651)), _time.CarefulNow);
    }

    [Fact]
    public void Set_forward_and_back_again_the_clock_is_believed_as_before()
    {
        _wall.Step(TimeSpan.FromDays(30));
        _time.Look();
        _wall.Step(TimeSpan.FromDays(-30));
        _time.Look();

        Assert.Equal(Instant.From(Start), _time.CarefulNow);
        Assert.Equal(_time.Now, _time.CarefulNow);
    }
}
