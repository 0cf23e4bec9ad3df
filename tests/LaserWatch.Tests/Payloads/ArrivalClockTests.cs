using CsCheck;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

public class ArrivalClockTests
{
    [Fact]
    public void Arrival_is_what_the_wall_clock_says()
    {
        var time = new SettableTime();
        var clock = new ArrivalClock(time);

        Assert.Equal(Instant.From(time.Wall), clock.Next());
        time.Pass(TimeSpan.FromSeconds(1));
        Assert.Equal(Instant.From(time.Wall), clock.Next());
    }

    [Fact]
    public void Two_messages_at_once_are_a_microsecond_apart()
    {
        var clock = new ArrivalClock(new SettableTime());
        var first = clock.Next();

        Assert.Equal([1000, 2000], new[] { clock.Next(), clock.Next() }.Select(t => t.UnixNanoseconds - first.UnixNanoseconds));
    }

    [Fact]
    public void A_wall_clock_set_back_a_little_is_waited_for_at_half_speed()
    {
        var time = new SettableTime();
        var clock = new ArrivalClock(time);
        var before = clock.Next();
        time.Wall -= TimeSpan.FromSeconds(10);

        time.Pass(TimeSpan.FromSeconds(4));
        Assert.Equal(before + TimeSpan.FromSeconds(2), clock.Next());
        time.Pass(TimeSpan.FromSeconds(16));
        Assert.Equal(Instant.From(time.Wall), clock.Next());
    }

    [Fact]
    public void A_wall_clock_set_back_far_is_followed()
    {
        var time = new SettableTime();
        var clock = new ArrivalClock(time);
        clock.Next();
        time.Wall -= TimeSpan.FromHours(1);

        Assert.Equal(Instant.From(time.Wall), clock.Next());
    }

    [Fact]
    public void Whatever_small_steps_the_wall_clock_takes_stamps_rise_by_at_least_a_microsecond() =>
        Gen.Select(Gen.Int[0, 3_000_000], Gen.Int[-5_000_000, 5_000_000]).Array[1, 100].Sample(steps =>
        {
            var time = new SettableTime();
            var clock = new ArrivalClock(time);
            var last = clock.Next();
            foreach (var (passed, set) in steps)
            {
                time.Pass(TimeSpan.FromMicroseconds(passed));
                // Never further back than the limit, all steps together.
                if (Instant.From(time.Wall + TimeSpan.FromMicroseconds(set)) > last - TimeSpan.FromSeconds(59))
                    time.Wall += TimeSpan.FromMicroseconds(set);
                var next = clock.Next();
                Assert.True(next.UnixNanoseconds - last.UnixNanoseconds >= 1000);
                last = next;
            }
        });

    /// <summary>A wall clock that can be set, over a steady one that cannot.</summary>
    private sealed class SettableTime : TimeProvider
    {
        private long _ticks;

        public DateTimeOffset Wall { get; set; } = new(2026, 3, 9, 8, 0, 0, TimeSpan.Zero);

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override DateTimeOffset GetUtcNow() => Wall;

        public override long GetTimestamp() => _ticks;

        public void Pass(TimeSpan span)
        {
            Wall += span;
            _ticks += span.Ticks;
        }
    }
}
