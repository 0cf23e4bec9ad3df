using CsCheck;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

public class MachineWatchTests
{
    [Fact]
    public void A_watch_restored_at_any_moment_goes_on_as_if_it_had_never_stopped()
    {
        Gen.Int[0, 10_000].Select(Gen.Int[0, 899]).Sample(
            (seed, stop) =>
            {
                var whole = new Scene(recordedCurrent: 18.2);
                Play(whole, seed, 0, 900);

                var first = new Scene(recordedCurrent: 18.2);
                Play(first, seed, 0, stop);
                var second = new Scene(recordedCurrent: 18.2) { Now = first.Now };
                Assert.True(second.Watch.TryRestore(first.Watch.Save()));
                Play(second, seed, stop, 900);

                Assert.Equal(whole.Changes.Select(Text), first.Changes.Concat(second.Changes).Select(Text));
                Assert.Equal(whole.Watch.Save(), second.Watch.Save());
            },
            iter: 60);
    }

    [Fact]
    public void The_same_samples_an_hour_later_give_the_same_alarms_an_hour_later()
    {
        Gen.Int[0, 10_000].Sample(
            seed =>
            {
                var now = new Scene(recordedCurrent: 18.2);
                Play(now, seed, 0, 900);
                var later = new Scene(recordedCurrent: 18.2) { Now = Scene.Start + TimeSpan.FromHours(1) };
                Play(later, seed, 0, 900);

                Assert.Equal(
                    now.Changes.Select(c => (c.Time + TimeSpan.FromHours(1), c.Condition, c.State, c.Value)),
                    later.Changes.Select(c => (c.Time, c.Condition, c.State, c.Value)));
            },
            iter: 30);
    }

    [Fact]
    public void A_damaged_or_foreign_state_is_refused()
    {
        var scene = new Scene();
        Play(scene, 1, 0, 100);
        var state = scene.Watch.Save();

        Assert.False(new Scene().Watch.TryRestore(state.AsSpan(0, state.Length - 3)));
        Assert.False(new Scene().Watch.TryRestore([.. state, 0]));
        Assert.False(new Scene().Watch.TryRestore([9, 9, 9, 9, .. state.AsSpan(4)]));
        Assert.False(new Scene().Watch.TryRestore([]));
    }

    [Fact]
    public void A_duplicate_is_counted_and_not_judged()
    {
        var scene = Lost(out var at);

        scene.Watch.Observe(at, [new(Channel.AirPressure, 20)]);

        Assert.Empty(scene.Raised(Conditions.AirPressureLost));
        Assert.Equal(1, scene.Watch.Status.NotJudged["duplicate"]);
    }

    [Fact]
    public void A_sample_more_than_five_seconds_late_is_counted_and_not_judged()
    {
        var scene = new Scene();
        scene.Begin();
        scene.Cut(Scene.Hold(210, 20));

        for (var back = 6; back < 9; back++)
            scene.Changes.AddRange(scene.Watch.Observe(scene.Now - TimeSpan.FromSeconds(back) + TimeSpan.FromMilliseconds(1), [new(Channel.AirPressure, 1)]));

        Assert.Empty(scene.Changes);
        Assert.InRange(scene.Watch.Status.NotJudged["late"], 2, 3);
    }

    [Fact]
    public void A_run_nobody_announced_is_matched_by_power_and_pressure_and_judged()
    {
        var scene = new Scene();
        scene.Book.Add(new JobRecord("felt-3-cut", Scene.Start, null, new PowerPercent(30), 20, new Kilopascals(90), null));

        scene.Cut(Scene.Hold(208, 30));
        Assert.Equal(Scene.Job, scene.Watch.Status.Job);
        scene.Cut(Scene.Hold(120, 10));

        Assert.Equal(Scene.Job, Assert.Single(scene.Raised(Conditions.AirPressureLow)).Job);
        Assert.Equal([null, Scene.Job], scene.Watch.TakeInferredRuns().Select(r => r.Job));
    }

    [Fact]
    public void A_run_that_two_records_fit_stays_unknown()
    {
        var scene = new Scene();
        scene.Book.Add(Scene.Record() with { Job = "twin" });

        scene.Cut(Scene.Hold(208, 60));

        Assert.NotNull(scene.Watch.Status.RunSince);
        Assert.Null(scene.Watch.Status.Job);
    }

    [Fact]
    public void An_unannounced_run_ends_after_a_minute_without_beam()
    {
        var scene = new Scene();
        scene.Cut(Scene.Hold(208, 30));
        var stop = scene.Now;

        for (var t = 0; t < 90; t++)
            scene.Say(1, new ChannelValue(Channel.Lasing, 0));

        Assert.Null(scene.Watch.Status.RunSince);
        var end = scene.Watch.TakeInferredRuns()[^1];
        Assert.Equal(JobEventKind.End, end.Kind);
        Assert.InRange(end.At.SecondsSince(stop), 55, 65);
    }

    [Fact]
    public void An_end_without_a_start_is_counted()
    {
        var scene = new Scene();

        scene.End();

        Assert.Equal(1, scene.Watch.Status.NotJudged["job_end_without_start"]);
    }

    [Fact]
    public void Limits_of_a_channel_of_the_shops_own_are_kept()
    {
        var options = MonitorOptions.Default with { Limits = new Dictionary<string, Rules.ChannelLimitOptions> { ["exhaust_pressure"] = new() { Low = 40, OnDelaySeconds = 3 } } };
        var scene = new Scene(options);
        var table = new ChannelTable();
        Assert.True(table.TryGet("exhaust_pressure", out var exhaust));

        for (var t = 0; t < 6; t++)
            scene.Say(1, new ChannelValue(exhaust!, 12));

        var alarm = Assert.Single(scene.Raised("exhaust-pressure-out-of-limits"));
        Assert.Equal((12.0, 40.0), (alarm.Value!.Value, alarm.Limit!.Value));
    }

    [Fact]
    public void The_status_says_what_each_rule_lacks()
    {
        var scene = new Scene();
        scene.Begin();
        scene.Cut(Scene.Hold(210, 5));

        var rules = scene.Watch.Status.Rules.ToDictionary(r => r.Rule);

        Assert.Empty(rules[Conditions.AirPressureLow].Lacks);
        Assert.Contains("tube_current: never heard", rules[Conditions.TubeCurrentSag].Lacks);
        Assert.Contains("ambient_humidity: never heard", rules[Conditions.CondensationRisk].Lacks);
    }

    [Fact]
    public void A_steady_state_sample_allocates_nothing()
    {
        var scene = new Scene(recordedCurrent: 18.2);
        Play(scene, 3, 0, 600);
        var values = new ChannelValue[] { new(Channel.TubeCurrent, 18.2), new(Channel.Power, 66), new(Channel.Lasing, 1), new(Channel.AirPressure, 210) };
        // Learning a baseline keeps its blocks; the steady state comes after.
        for (var t = 0; t < 40_000; t++)
            Step();
        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var t = 0; t < 1000; t++)
            Step();

        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);

        void Step()
        {
            values[0] = new(Channel.TubeCurrent, 18.2 + (0.1 * (scene.Now.UnixNanoseconds / 1_000_000_000 % 3)));
            values[3] = new(Channel.AirPressure, 210 + (scene.Now.UnixNanoseconds / 1_000_000_000 % 3));
            scene.Watch.Observe(scene.Now, values);
            scene.Now += TimeSpan.FromSeconds(1);
        }
    }

    private static Scene Lost(out Instant at)
    {
        var scene = new Scene();
        scene.Begin();
        scene.Cut(Scene.Hold(210, 20));
        at = scene.Now;
        scene.Changes.AddRange(scene.Watch.Observe(at, [new(Channel.Lasing, 1), new(Channel.AirPressure, 20)]));
        return scene;
    }

    private static string Text(AlarmChange c) =>
        $"{c.Time} {c.Condition} {c.State} {c.Priority} {c.Value} {c.Limit} {c.Job} {c.Message} {string.Join(",", c.Evidence)} {string.Join(",", c.Checks)}";

    /// <summary>A quarter of an hour in which anything can happen, the same for the same seed, from one second to another.</summary>
    private static void Play(Scene scene, int seed, int from, int to)
    {
        for (var t = from; t < to; t++)
        {
            var random = new Random(unchecked((seed * 7919) + t));
            var mood = new Random(unchecked((seed * 31) + (t / 60)));
            var (low, hot, weak, mute) = (mood.Next(4) == 0, mood.Next(4) == 0, mood.Next(5) == 0, mood.Next(6) == 0);
            if (random.Next(200) == 0)
                scene.Begin();
            if (random.Next(300) == 0)
                scene.End();
            if (random.Next(400) == 0)
                scene.Changes.AddRange(scene.Watch.Observe(new AlarmCommand("bay1", scene.Now, AlarmCommandKind.Acknowledge, Conditions.AirPressureLow, "ana")));
            List<ChannelValue> values =
            [
                new(Channel.Lasing, random.Next(10) == 0 ? 0 : 1), new(Channel.Power, 66),
                new(Channel.TubeCurrent, (weak ? 14 : 18.2) + random.NextDouble()), new(Channel.CoolantIn, (hot ? 31 : 22) + random.NextDouble()),
                new(Channel.AmbientTemperature, 24 + random.NextDouble()), new(Channel.AmbientHumidity, 50), new(Channel.CoolantFlow, 3 + random.NextDouble()),
            ];
            if (!mute)
                values.Add(new(Channel.AirPressure, random.Next(50) == 0 ? 1e6 : low ? 100 * random.NextDouble() : 208 + (4 * random.NextDouble())));
            scene.Say(1, [.. values]);
            if (random.Next(20) == 0)
                scene.Changes.AddRange(scene.Watch.Observe(scene.Now - TimeSpan.FromSeconds(random.Next(8)), [new(Channel.TubeCurrent, 9)]));
        }
    }
}
