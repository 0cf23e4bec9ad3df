using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

[Collection(Alone.Name)]
public sealed class ClockJumpTests
{
    private static readonly double[] Sizes = [1, -1, 30, -30, 3600, -3600, 86_400, -86_400];

    /// <summary>One to four steps at random moments: the same plans each time, and first the two that were once judged wrongly.</summary>
    private static IEnumerable<(int Second, double By)[]> Plans(int seed)
    {
        yield return [(58, -1), (180, -3600), (251, -1), (256, 3600)];
        yield return [(53, -86_400), (163, 30), (195, 86_400), (244, -86_400)];
        var random = new Random(seed);
        for (var i = 0; i < 40; i++)
            yield return [.. Enumerable.Range(0, random.Next(1, 5)).Select(_ => (random.Next(5, ClockScene.Seconds - 5), Sizes[random.Next(Sizes.Length)]))];
    }

    [Fact]
    public async Task The_undisturbed_run_has_the_alarms_that_its_faults_make()
    {
        await using var scene = new ClockScene();
        var alarms = await scene.PlayAsync();

        Assert.Equal(
            [
                (Conditions.AirPressureLow, AlarmState.Unacknowledged), (Conditions.AirPressureLow, AlarmState.ReturnedUnacknowledged),
                (Conditions.SensorSilent, AlarmState.Unacknowledged),
            ],
            alarms.Select(a => (a.Condition, a.State)));
        Assert.Empty(await scene.GapsAsync());
    }

    [Fact]
    public async Task Whenever_the_clock_is_set_the_same_alarms_are_raised_none_more_and_none_lost()
    {
        var undisturbed = await AlarmsAsync(ownClock: false);
        foreach (var steps in Plans(seed: 6))
        {
            var alarms = await AlarmsAsync(ownClock: false, steps);
            AssertSame(undisturbed, alarms);

            // Each stands at the wall clock's time of its moment; within three seconds of a step, at either.
            foreach (var (then, now) in undisturbed.Zip(alarms))
            {
                var moment = then.Time.SecondsSince(PipelineBench.Start);
                Assert.Contains(
                    Enumerable.Range(-6, 13).Select(half => steps.Where(step => step.Second < moment + (half / 2.0)).Sum(step => step.By)),
                    by => Math.Abs(now.Time.SecondsSince(then.Time) - by) < 1.1);
            }
        }
    }

    [Fact]
    public async Task Sensors_that_tell_their_own_time_raise_the_same_alarms_too()
    {
        var undisturbed = await AlarmsAsync(ownClock: true);
        foreach (var steps in Plans(seed: 5))
            AssertSame(undisturbed, await AlarmsAsync(ownClock: true, steps));
    }

    [Theory]
    [InlineData(3600, "set forward by 1:00:00")]
    [InlineData(-86_400, "set back by 1 d 00:00:00")]
    [InlineData(-30, "set back by 30 s")]
    public async Task A_jump_is_logged_with_direction_and_size_and_the_doubtful_time_is_stored_as_a_gap(double by, string words)
    {
        await using var scene = new ClockScene();
        await scene.PlayAsync((100, by));

        var gap = Assert.Single(await scene.GapsAsync());
        Assert.Equal(("bay1", "the agent's clock was " + words, 0), (gap.Machine, gap.Reason, gap.Lost));
        Assert.Equal(Math.Abs(by), gap.To.SecondsSince(gap.From), 0.001);
        Assert.Contains(scene.Bench.Log.Warnings, line => line.Contains(words, StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_clock_gone_mad_is_told_of_once_a_minute()
    {
        await using var scene = new ClockScene();
        var alarms = await scene.PlayAsync([.. Enumerable.Range(10, 300).Select(second => (second, second % 2 == 0 ? 5.0 : -4.0))]);

        Assert.InRange((await scene.GapsAsync()).Count, 4, 6);
        Assert.Equal([Conditions.AirPressureLow, Conditions.AirPressureLow, Conditions.SensorSilent], alarms.Select(a => a.Condition));
    }

    [Theory]
    [InlineData(3600)]
    [InlineData(-3600)]
    [InlineData(-86_400)]
    public async Task A_shelved_alarm_comes_back_when_its_time_has_passed_whatever_the_clock_says(double by)
    {
        await using var scene = new ClockScene();
        await scene.PlayAsync(70);
        scene.Send("command", """{"do":"shelve","condition":"air-pressure-low","by":"test","for":"PT3M","why":"a try"}""");
        await scene.PlayAsync(240, (100, by));
        Assert.DoesNotContain(scene.Bench.Announced, a => a.Message.StartsWith("shelving is over", StringComparison.Ordinal));
        await scene.PlayAsync(255);
        await scene.Bench.SettleAsync();

        Assert.Single(scene.Bench.Announced, a => a.Message.StartsWith("shelving is over", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(30)]
    [InlineData(3600)]
    [InlineData(86_400)]
    [InlineData(1_700_000_000)]
    public async Task After_a_restart_with_the_clock_set_back_samples_are_judged_at_once(double back)
    {
        var store = new FaultyTelemetryStore();
        await using (var before = new PipelineBench(store))
        {
            for (var second = 0; second < 30; second++)
                before.Send(second, "bay1/air_pressure", FormattableString.Invariant($"{210 + (second % 2)}"));
            before.Tick(61);
            await before.FinishAsync();
            before.Pipeline.SaveAll(PipelineBench.At(61));
            await before.SettleAsync();
        }

        await using var after = new PipelineBench(store);
        await after.ResumeAsync(PipelineBench.At(62 - back));
        after.Send(62 - back, "bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        after.Cut(63 - back, 90 - back, 150);
        await after.SettleAsync();

        Assert.Equal(0, after.Shop.Find("bay1")!.Status.NotJudged["late"]);
        Assert.Contains(after.Announced, a => (a.Condition, a.State) == (Conditions.AirPressureLow, AlarmState.Unacknowledged));
    }

    [Fact]
    public async Task After_a_restart_sensors_that_are_ahead_of_a_clock_that_nobody_set_are_left_as_they_are()
    {
        var store = new FaultyTelemetryStore();
        await using (var before = new PipelineBench(store))
        {
            before.Send(0, "bay1/job", """{"event":"start","job":"birch-6-cut"}""");
            for (var i = 0; i <= 80; i++)
                before.Send(i * 0.01, "bay1/air_pressure", FormattableString.Invariant($$"""{"value": {{150 + (i % 2)}}, "time": {{1_773_043_200 + (i * 0.5)}}}"""));
            await before.SettleAsync();
        }

        await using var after = new PipelineBench(store);
        await after.ResumeAsync(PipelineBench.At(5));
        after.Send(6, "bay1/coolant_in", "20.5");
        after.Send(7, "bay1/command", """{"do":"acknowledge","condition":"air-pressure-low","by":"night shift"}""");
        await after.SettleAsync();

        Assert.Equal([AlarmState.Unacknowledged, AlarmState.Acknowledged], (await after.AlarmLogAsync()).Select(a => a.State));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(3600)]
    [InlineData(-86_400)]
    public void A_flood_ends_when_its_window_has_passed_whatever_the_clock_says(double by)
    {
        var options = new FloodOptions();
        var flood = new FloodWatch(options);
        for (var i = 0; i < options.StartsAt; i++)
            flood.Observe(Raised($"bay{i}", i));
        Assert.True(flood.InFlood);
        flood.Tick(PipelineBench.At(60));
        flood.Shift(TimeSpan.FromSeconds(by));
        flood.Tick(PipelineBench.At(61 + by));
        Assert.True(flood.InFlood);

        Assert.False(Assert.Single(flood.Tick(PipelineBench.At(60 + by) + options.Window)).Began);
        Assert.False(flood.InFlood);

        static AlarmChange Raised(string machine, int second) => new(
            PipelineBench.At(second), machine, Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, 150, 189, "kPa", null, "low", [], []);
    }

    [Fact]
    public async Task Daylight_saving_matters_nowhere_since_local_time_is_only_print()
    {
        // The hour that Los Angeles leaves out on 8 March 2026 begins at 10:00 UTC (from memory: the second Sunday of March, 02:00).
        var start = Instant.From(new DateTimeOffset(2026, 3, 8, 9, 58, 0, TimeSpan.Zero));
        var zone = Environment.GetEnvironmentVariable("TZ");
        try
        {
            var played = new List<IReadOnlyList<AlarmChange>>();
            foreach (var place in (string[])["UTC", "America/Los_Angeles", "Pacific/Kiritimati"])
            {
                Environment.SetEnvironmentVariable("TZ", place);
                TimeZoneInfo.ClearCachedData();
                if (place == "America/Los_Angeles")
                    Assert.True(TimeZoneInfo.Local.IsInvalidTime(new DateTime(2026, 3, 8, 2, 30, 0)), "the zone must be known here, or this proves nothing");
                await using var scene = new ClockScene(start);
                played.Add(await scene.PlayAsync());
                Assert.Empty(await scene.GapsAsync());
            }

            Assert.Equal(played[0].Select(a => a.Id()), played[1].Select(a => a.Id()));
            Assert.Equal(played[0].Select(a => a.Id()), played[2].Select(a => a.Id()));
            Assert.NotEmpty(played[0]);
        }
        finally
        {
            Environment.SetEnvironmentVariable("TZ", zone);
            TimeZoneInfo.ClearCachedData();
        }
    }

    private static async Task<IReadOnlyList<AlarmChange>> AlarmsAsync(bool ownClock, params (int Second, double By)[] steps)
    {
        await using var scene = new ClockScene(ownClock: ownClock);
        return await scene.PlayAsync(steps);
    }

    private static (string, AlarmState, AlarmPriority, double?, string?) Content(AlarmChange a) => (a.Condition, a.State, a.Priority, a.Limit, a.Job);

    // A step may part two samples by its own fraction of a second: the value is that of this sample or the next, kPa or s.
    private static void AssertSame(IReadOnlyList<AlarmChange> expected, IReadOnlyList<AlarmChange> actual)
    {
        Assert.Equal(expected.Select(Content), actual.Select(Content));
        foreach (var (one, other) in expected.Zip(actual))
            Assert.InRange(other.Value!.Value, one.Value!.Value - 1, one.Value.Value + 1);
    }
}
