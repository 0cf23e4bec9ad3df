using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Life;

public class TubeLifeDetectorTests
{
    [Fact]
    public void A_meter_past_the_rated_hours_whose_tube_nobody_logged_says_if_and_stays_low()
    {
        var scene = new Scene();
        Work(scene, meter: 8200, hours: 2);

        var alarm = Assert.Single(scene.Raised(Conditions.TubeLife));
        Assert.Equal((AlarmPriority.Low, 8000.0, "h"), (alarm.Priority, alarm.Limit!.Value, alarm.Unit));
        Assert.StartsWith("if the tube is as old as the 8200 beam hours counted, it is past its rated 8000", alarm.Message, StringComparison.Ordinal);
        Assert.NotEmpty(alarm.Checks);
    }

    [Fact]
    public void A_meter_older_than_a_tube_whose_replacement_is_logged_says_nothing()
    {
        var scene = new Scene();
        Log(scene, scene.Now - TimeSpan.FromDays(20), "replaced");
        Work(scene, meter: 8200, hours: 30);

        Assert.Empty(scene.Raised(Conditions.TubeLife));
    }

    [Fact]
    public void Logging_the_replacement_ends_the_alarm_at_once()
    {
        var scene = new Scene();
        Work(scene, meter: 8200, hours: 2);
        Log(scene, scene.Now, "replaced");

        Assert.Equal(AlarmState.ReturnedUnacknowledged, scene.Changes[^1].State);
    }

    [Fact]
    public void Hours_of_a_tube_put_in_at_a_known_reading_are_sure_low_when_near_and_medium_when_past()
    {
        var scene = Rated(new() { RatedHours = 20, Installed = Scene.Start - TimeSpan.FromDays(40), MeterAtInstallHours = 8000 });
        Work(scene, meter: 8005, hours: 16);

        Assert.Equal(
            [(AlarmPriority.Low, "the tube is near its rated life: 18 of 20 beam hours"), (AlarmPriority.Medium, "the tube is past its rated life: 20 of 20 beam hours")],
            scene.Raised(Conditions.TubeLife).Select(a => (a.Priority, a.Message)));
    }

    [Fact]
    public void Without_a_meter_the_beam_seen_since_the_log_says_installed_counts()
    {
        var scene = Rated(new() { RatedHours = 10 });
        Work(scene, null, 7);
        Log(scene, scene.Now, "installed");
        Work(scene, null, 8.9);
        Assert.DoesNotContain(scene.Raised(Conditions.TubeLife), a => a.Priority != AlarmPriority.Low);
        Assert.Empty(scene.Watch.Standing);

        Work(scene, null, 0.2);
        Assert.Equal(AlarmPriority.Low, Assert.Single(scene.Raised(Conditions.TubeLife)).Priority);
    }

    [Theory]
    [InlineData(32, false, AlarmPriority.Low)]
    [InlineData(33, true, AlarmPriority.Low)]
    [InlineData(37, true, AlarmPriority.Medium)]
    public void The_calendar_counts_from_the_logged_installation(int months, bool raised, AlarmPriority priority)
    {
        var scene = new Scene();
        Log(scene, scene.Now - TimeSpan.FromDays(30.4375 * months), "installed");
        Work(scene, null, 0.1);

        Assert.Equal(raised ? [(priority, "months")] : [], scene.Raised(Conditions.TubeLife).Select(a => (a.Priority, a.Unit)));
    }

    [Fact]
    public void A_day_of_nothing_known_raises_nothing()
    {
        var scene = new Scene();
        Work(scene, null, 24);

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_projected_end_within_the_look_ahead_is_told_with_its_interval_and_a_far_one_is_not()
    {
        var (ledger, detector) = Ledger();
        var reading = new Reading { At = Scene.Start };
        var today = Scene.Start.UnixNanoseconds / 86_400e9;

        Assert.Null(detector.TakeHealth(Days(today, 60), Falling(60, 1.0, 0.0005), Errors(60)).Refusal);
        Assert.Equal(Rules.Judgement.Normal, detector.Update(reading).Judgement);

        detector.TakeHealth(Days(today, 60), Falling(60, 1.0, 0.002), Errors(60));
        reading.At += TimeSpan.FromMinutes(1);
        var verdict = detector.Update(reading);
        Assert.Equal((Rules.Judgement.Breach, 0, 30.0), (verdict.Judgement, verdict.Grade, verdict.Limit!.Value));
        Assert.InRange(verdict.Value!.Value, 13, 18);
        var finding = detector.Explain(reading, verdict);
        Assert.Equal(AlarmPriority.Low, finding.Priority);
        Assert.StartsWith("at its present fall the tube current reaches 85 % of its baseline about 2026-03-", finding.Message, StringComparison.Ordinal);
        Assert.Contains(finding.Evidence, e => e.Name == "projected_end_latest");

        detector.Reset();
        reading.At += TimeSpan.FromMinutes(1);
        Assert.Equal(Rules.Judgement.Normal, detector.Update(reading).Judgement);
        Assert.NotNull(ledger.Began);
    }

    [Fact]
    public void No_significant_fall_is_no_projection()
    {
        var (_, detector) = Ledger();
        var today = Scene.Start.UnixNanoseconds / 86_400e9;

        Assert.Equal("the fall is not significant", detector.TakeHealth(Days(today, 30), Falling(30, 1.0, 0.00001), Errors(30)).Refusal);
        Assert.Equal(Rules.Judgement.Normal, detector.Update(new Reading { At = Scene.Start }).Judgement);
    }

    [Fact]
    public void A_tube_that_loses_a_quarter_percent_a_day_is_told_about_a_month_before_its_end_and_never_by_its_first_weeks()
    {
        var scene = new Scene();
        var random = new Random(12);
        var start = scene.Now;
        for (var day = 0; day < 62; day++)
        {
            scene.Now = start + TimeSpan.FromDays(day);
            var today = 18.2 * (1 - (0.0025 * Math.Max(0, day - 8))) * (1 + (0.008 * (random.NextDouble() - 0.5)));
            for (var second = 0; second < 1800; second += 2)
                scene.Say(2, new ChannelValue(Channel.Lasing, 1), new(Channel.Power, 66), new(Channel.TubeCurrent, today + (0.2 * (random.NextDouble() - 0.5))));
        }

        // 15 % is lost 60 days after the fall began, on day 68.
        var alarm = Assert.Single(scene.Raised(Conditions.TubeLife));
        Assert.InRange(alarm.Time.SecondsSince(start) / 86_400, 34, 46);
        Assert.Equal((AlarmPriority.Low, "d"), (alarm.Priority, alarm.Unit));
        var (earliest, latest) = (alarm.Evidence.Single(e => e.Name == "projected_end_earliest").Text!, alarm.Evidence.Single(e => e.Name == "projected_end_latest").Text!);
        var end = (start + TimeSpan.FromDays(68)).ToString()[..10];
        Assert.True(string.CompareOrdinal(earliest, end) <= 0 && string.CompareOrdinal(end, latest) <= 0, $"{earliest} {end} {latest}");
    }

    private static (ServiceLedger Ledger, TubeLife Detector) Ledger()
    {
        var ledger = new ServiceLedger();
        ledger.Follow(Scene.Start - TimeSpan.FromDays(60), false);
        return (ledger, new TubeLife(ledger, null, new TubeLifeOptions()));
    }

    private static double[] Days(double today, int count) => [.. Enumerable.Range(0, count).Select(i => today - count + 1 + i)];

    private static double[] Falling(int count, double from, double byDay)
    {
        var random = new Random(7);
        return [.. Enumerable.Range(0, count).Select(i => from - (byDay * i) + (0.004 * (random.NextDouble() - 0.5)))];
    }

    private static double[] Errors(int count) => [.. Enumerable.Repeat(0.0012, count)];

    private static Scene Rated(TubeLifeOptions options) => new(MonitorOptions.Default with { TubeLife = options });

    private static void Log(Scene scene, Instant at, string action) =>
        scene.Changes.AddRange(scene.Watch.Observe(new ServiceEvent("bay1", at, "tube", action, "T-000002", null, ServiceEvent.NoDetails)));

    private static void Work(Scene scene, double? meter, double hours)
    {
        for (var second = 0; second < hours * 3600; second += 20)
        {
            if (meter is { } first)
                scene.Say(20, new ChannelValue(Channel.Lasing, 1), new(Channel.Runtime, first + (second / 3600.0)));
            else
                scene.Say(20, new ChannelValue(Channel.Lasing, 1));
        }
    }
}
