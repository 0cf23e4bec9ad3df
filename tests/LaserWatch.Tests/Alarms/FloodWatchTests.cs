using CsCheck;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

public class FloodWatchTests
{
    private static readonly Instant Start = new(1773043200000000000);

    [Fact]
    public void The_tenth_alarm_in_ten_minutes_begins_a_flood_and_it_lasts_until_fewer_than_five_are_left_in_ten_minutes()
    {
        var watch = new FloodWatch(new FloodOptions());
        for (var i = 0; i < 9; i++)
            Assert.Empty(watch.Observe(Raised($"bay{i}", Conditions.SensorSilent, minutes: i)));
        Assert.False(watch.InFlood);

        Assert.Equal([new FloodChange(At(9.5), true, 10)], watch.Observe(Raised("bay9", Conditions.SensorSilent, minutes: 9.5)));
        Assert.Equal((true, At(9.5), 10), (watch.InFlood, watch.Since, watch.Annunciations));

        // Those of minutes 5, 6, 7, 8 and 9.5 are left until the one of minute 5 is ten minutes old.
        Assert.Empty(watch.Tick(At(14.9)));
        Assert.Equal([new FloodChange(At(15), false, 10)], watch.Tick(At(20)));
        Assert.Equal((false, null, 0), (watch.InFlood, watch.Since, watch.Annunciations));
        Assert.Empty(watch.Alarms);
    }

    [Fact]
    public void One_alarm_a_minute_is_a_flood_only_where_ten_lie_within_ten_minutes()
    {
        var watch = new FloodWatch(new FloodOptions());
        Assert.All(Enumerable.Range(0, 60), i => Assert.Empty(watch.Observe(Raised("bay1", $"c{i}", minutes: i * 1.2))));
    }

    [Fact]
    public void Only_changes_to_unacknowledged_call_somebody()
    {
        var watch = new FloodWatch(new FloodOptions { StartsAt = 2, EndsBelow = 1 });
        foreach (var state in Enum.GetValues<AlarmState>().Where(s => s != AlarmState.Unacknowledged))
            Assert.Empty(watch.Observe(Raised("bay1", Conditions.CoolantHot, 0) with { State = state }));
        Assert.Empty(watch.Observe(Raised("bay1", Conditions.CoolantHot, 0)));
        Assert.True(Assert.Single(watch.Observe(Raised("bay1", Conditions.CoolantHot, 0))).Began);
        Assert.Single(watch.Alarms);
    }

    [Fact]
    public void Late_news_count_when_they_come()
    {
        var watch = new FloodWatch(new FloodOptions { StartsAt = 2, EndsBelow = 1 });
        watch.Tick(At(600));
        Assert.Empty(watch.Observe(Raised("bay1", Conditions.CoolantHot, 0)));
        Assert.Equal([new FloodChange(At(600), true, 2)], watch.Observe(Raised("bay2", Conditions.CoolantHot, 100)));
    }

    [Fact]
    public void Any_course_of_alarms_and_ticks_is_judged_as_by_counting_anew_each_time()
    {
        var step = Gen.Select(Gen.Int[-2, 7], Gen.Int[0, 2], Gen.Int[0, 3], (minutes, kind, machine) => (minutes, kind, machine));
        Gen.Select(Gen.Int[2, 6], Gen.Int[1, 6], step.Array[0, 60]).Sample((starts, ends, steps) =>
        {
            var options = new FloodOptions { StartsAt = starts, EndsBelow = Math.Min(ends, starts), WindowMinutes = 10 };
            var watch = new FloodWatch(options);
            var model = new CountingAnew(options);
            var now = 0;
            foreach (var (minutes, kind, machine) in steps)
            {
                now += minutes;
                if (kind == 0)
                    Assert.Equal(model.Tick(At(now)), watch.Tick(At(now)));
                else
                    Assert.Equal(model.Observe(At(now)), watch.Observe(Raised($"bay{machine}", Conditions.CoolantHot, now)));
                Assert.Equal(model.Since, watch.Since);
                Assert.Equal(model.Annunciations, watch.Annunciations);
            }
        });
    }

    [Fact]
    public void In_a_flood_root_causes_come_first_and_what_they_explain_beneath()
    {
        var watch = new FloodWatch(new FloodOptions { StartsAt = 5 });
        watch.Observe(Raised("bay1", Conditions.CoolantTimeToLimit, 0, AlarmPriority.High));
        watch.Observe(Raised("bay2", Conditions.TubeLife, 1, AlarmPriority.Low));
        watch.Observe(Raised("bay1", Conditions.CoolantHot, 2, AlarmPriority.High));
        watch.Observe(Raised("bay1", Conditions.CoolantFlowLow, 3, AlarmPriority.Urgent));
        watch.Observe(Raised("bay2", Conditions.AirPressureLost, 4, AlarmPriority.Urgent));

        Assert.Equal(
            [
                ("bay1", Conditions.CoolantFlowLow, 0), ("bay1", Conditions.CoolantHot, 1), ("bay1", Conditions.CoolantTimeToLimit, 2),
                ("bay2", Conditions.AirPressureLost, 0), ("bay2", Conditions.TubeLife, 0),
            ],
            watch.Alarms.Select(a => (a.Change.Machine, a.Change.Condition, a.Depth)));
    }

    internal static AlarmChange Raised(string machine, string condition, double minutes, AlarmPriority priority = AlarmPriority.Medium) => new(
        At(minutes), machine, condition, AlarmState.Unacknowledged, priority, null, null, "", null, condition, [], []);

    internal static Instant At(double minutes) => Start + TimeSpan.FromMinutes(minutes);

    /// <summary>Keeps every annunciation and counts all of them at every instant at which the count can have changed.</summary>
    private sealed class CountingAnew(FloodOptions options)
    {
        private readonly TimeSpan _window = TimeSpan.FromMinutes(options.WindowMinutes);
        private readonly List<Instant> _all = [];
        private Instant _now = Instant.MinValue;
        private int _total;

        public Instant? Since { get; private set; }

        public int Annunciations => Since is null ? 0 : _total;

        public List<FloodChange> Tick(Instant now)
        {
            var changes = new List<FloodChange>();
            _now = now > _now ? now : _now;
            foreach (var leaves in _all.Select(at => at + _window).Where(at => at <= _now).Order())
            {
                if (Since is null || CountAt(leaves) >= options.EndsBelow || leaves < Since)
                    continue;
                changes.Add(new(leaves, false, _total));
                Since = null;
            }

            return changes;
        }

        public List<FloodChange> Observe(Instant at)
        {
            var changes = Tick(at);
            _all.Add(_now);
            if (Since is not null)
            {
                _total++;
            }
            else if (CountAt(_now) >= options.StartsAt)
            {
                Since = _now;
                _total = CountAt(_now);
                changes.Add(new(_now, true, _total));
            }

            return changes;
        }

        private int CountAt(Instant at) => _all.Count(a => a <= at && a + _window > at);
    }
}
