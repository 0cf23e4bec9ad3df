using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public class TubeCurrentTests
{
    private readonly Random _random = new(11);

    [Fact]
    public void A_healthy_month_of_cutting_with_corners_and_gaps_is_silent()
    {
        var scene = new Scene();

        for (var day = 0; day < 20; day++)
            Day(scene, day, hours: 2, _ => 1.0);

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_slow_fall_is_sag_and_not_a_step_and_is_told_soon_after_it_is_material()
    {
        var scene = new Scene();
        Instant? material = null;

        for (var day = 0; day < 40 && !scene.Raised(Conditions.TubeCurrentSag).Any(); day++)
        {
            Day(scene, day, hours: 2, at =>
            {
                var ratio = 1 - (0.005 * Math.Max(0, (at - Scene.Start).TotalDays - 5));
                if (ratio < 0.95)
                    material ??= at;
                return ratio;
            });
        }

        var alarm = Assert.Single(scene.Raised(Conditions.TubeCurrentSag));
        Assert.InRange((alarm.Time - material!.Value).TotalDays, -1, 4);
        Assert.Empty(scene.Raised(Conditions.TubeCurrentStep));
        Assert.Equal(AlarmPriority.Medium, alarm.Priority);
    }

    [Fact]
    public void A_sudden_fall_is_a_step_within_five_minutes_of_beam()
    {
        var scene = new Scene();
        for (var day = 0; day < 3; day++)
            Day(scene, day, hours: 2, _ => 1.0);
        Assert.Empty(scene.Changes);
        var fall = At(3, 8.5);

        Day(scene, 3, hours: 2, at => at < fall ? 1.0 : 0.88);

        var step = Assert.Single(scene.Raised(Conditions.TubeCurrentStep));
        Assert.InRange((step.Time - fall).TotalMinutes, 0, 6);
        Assert.Equal(0.88, step.Evidence.Single(e => e.Name == "ratio_after").Number!.Value, 2);
        Assert.Empty(scene.Raised(Conditions.TubeCurrentSag));
        Assert.Single(scene.Folded(Conditions.TubeCurrentSag, Conditions.TubeCurrentStep));
    }

    [Fact]
    public void Sampled_every_twenty_seconds_through_short_cuts_sag_is_still_found()
    {
        var scene = new Scene();
        for (var day = 0; day < 24; day++)
        {
            scene.Now = At(day, 8);
            scene.Begin();
            for (var t = 0; t < 6 * 3600; t += 20)
            {
                // On and off in turn: no two samples ever lie within one cut, and one in ten straddles an edge.
                var on = t % 40 == 0;
                var edge = _random.NextDouble() < 0.1 ? _random.NextDouble() : 1;
                scene.Say(20, new(Channel.TubeCurrent, on ? Current((day < 12 ? 1 : 0.90) * edge) : 0), new(Channel.Power, 66), new(Channel.Lasing, on ? 1 : 0));
            }

            scene.End();
            if (day == 11)
                Assert.Empty(scene.Changes);
        }

        Assert.Single(scene.Folded(Conditions.TubeCurrentSag, Conditions.TubeCurrentStep));
    }

    [Fact]
    public void A_fall_at_the_top_power_alone_is_sag_although_most_cuts_are_at_another()
    {
        var scene = new Scene();
        for (var day = 0; day < 4; day++)
            MixedDay(scene, day, top: 1.0);
        Assert.Empty(scene.Changes);

        for (var day = 4; day < 8; day++)
            MixedDay(scene, day, top: 0.92);

        var alarm = Assert.Single(scene.Folded(Conditions.TubeCurrentSag, Conditions.TubeCurrentStep));
        Assert.Equal("66 %", alarm.Evidence.Single(e => e.Name == "powers_fallen").Text);
    }

    [Fact]
    public void Fifteen_percent_raises_the_priority()
    {
        var scene = new Scene();
        for (var day = 0; day < 3; day++)
            Day(scene, day, hours: 2, _ => 1.0);

        Day(scene, 3, hours: 2, _ => 0.80);

        Assert.Equal(AlarmPriority.High, scene.Folded(Conditions.TubeCurrentSag, Conditions.TubeCurrentStep).Last().Priority);
    }

    [Fact]
    public void A_new_tube_starts_a_new_baseline()
    {
        var scene = new Scene();
        for (var day = 0; day < 3; day++)
            Day(scene, day, hours: 2, _ => 1.0);
        Day(scene, 3, hours: 2, _ => 0.85);
        Assert.NotEmpty(scene.Folded(Conditions.TubeCurrentSag, Conditions.TubeCurrentStep));

        scene.Changes.Clear();
        scene.Changes.AddRange(scene.Watch.Observe(new ServiceEvent("bay1", scene.Now, "tube", "replaced", "T-000002", null, ServiceEvent.NoDetails)));
        Assert.Equal(
            [(Conditions.TubeCurrentSag, AlarmState.Normal), (Conditions.TubeCurrentStep, AlarmState.ReturnedUnacknowledged)],
            scene.Changes.Select(c => (c.Condition, c.State)));
        scene.Changes.Clear();
        for (var day = 4; day < 8; day++)
            Day(scene, day, hours: 2, _ => 0.90);

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_tube_already_below_the_jobs_recorded_current_is_sag_from_the_first_hour()
    {
        var scene = new Scene(recordedCurrent: 18.2);

        Day(scene, 0, hours: 2, _ => 0.88);

        Assert.Single(scene.Raised(Conditions.TubeCurrentSag));
        Assert.Empty(scene.Raised(Conditions.TubeCurrentStep));
    }

    [Fact]
    public void A_record_older_than_the_tube_says_nothing_of_it()
    {
        var scene = new Scene(recordedCurrent: 18.2);
        scene.Watch.Observe(new ServiceEvent("bay1", scene.Now, "tube", "replaced", null, null, ServiceEvent.NoDetails));

        for (var day = 0; day < 3; day++)
            Day(scene, day, hours: 2, _ => 0.88);

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void Engraving_with_half_the_duty_is_no_sag()
    {
        var scene = new Scene();
        scene.Book.Add(new JobRecord("photo", Scene.Start, null, new PowerPercent(66), 300, null, null, CutMode.Raster));
        for (var day = 0; day < 3; day++)
            Day(scene, day, hours: 2, _ => 1.0);

        scene.Now = At(3, 8);
        scene.Begin("photo");
        for (var t = 0; t < 7200; t++)
            scene.Say(1, new(Channel.TubeCurrent, Current(0.5)), new(Channel.Power, 66), new(Channel.Lasing, 1));
        scene.End();

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_step_of_six_percent_over_night_is_named_a_step_within_three_days()
    {
        var scene = new Scene();
        for (var day = 0; day < 8; day++)
            Day(scene, day, hours: 2, _ => 1.0);
        Assert.Empty(scene.Changes);

        for (var day = 8; day < 12; day++)
            Day(scene, day, hours: 2, _ => 0.94);

        var step = Assert.Single(scene.Raised(Conditions.TubeCurrentStep));
        Assert.InRange((step.Time - At(8, 8)).TotalDays, 0, 3);
        Assert.InRange((When(Text(step, "change_began")) - At(8, 8)).TotalHours, -23, 2);
        Assert.InRange(Number(step, "fall"), 0.045, 0.075);
        Assert.InRange(0.06, Number(step, "fall_from"), Number(step, "fall_to"));
        Assert.Single(scene.Raised(Conditions.TubeCurrentSag));
    }

    [Fact]
    public void A_slow_fall_says_that_it_is_slow_when_it_began_and_how_large_it_is()
    {
        var scene = new Scene();
        for (var day = 0; day < 40 && !scene.Raised(Conditions.TubeCurrentSag).Any(); day++)
            Day(scene, day, hours: 2, at => 1 - (0.003 * Math.Max(0, (at - Scene.Start).TotalDays - 10)));

        var alarm = Assert.Single(scene.Raised(Conditions.TubeCurrentSag));

        Assert.Equal("ramp", Text(alarm, "change"));
        Assert.InRange(0.0, (When(Text(alarm, "change_began_from")) - At(10, 8)).TotalDays, (When(Text(alarm, "change_began_to")) - At(10, 8)).TotalDays);
        Assert.InRange(1 - Number(alarm, "level_now"), 0.045, 0.07);
        Assert.Equal("ageing-tube", Text(alarm, "cause"));
        Assert.StartsWith("current alone cannot clear", Text(alarm, "limit"), StringComparison.Ordinal);
    }

    [Fact]
    public void A_fall_at_the_minute_of_a_service_after_which_proven_cuts_go_through_is_put_down_to_sensor_or_wiring()
    {
        var scene = new Scene();
        for (var day = 0; day < 3; day++)
            Day(scene, day, hours: 2, _ => 1.0);
        scene.Changes.AddRange(scene.Watch.Observe(new ServiceEvent("bay1", At(3, 7.6), "supply", "inspected", null, null, ServiceEvent.NoDetails)));
        scene.Changes.AddRange(scene.Watch.Observe(new ServiceEvent(
            "bay1", At(3, 7.9), "test-cut", "made", null, null, new Dictionary<string, string> { ["power"] = "66", ["speed"] = "11", ["outcome"] = "through" })));

        for (var day = 3; day < 7; day++)
            Day(scene, day, hours: 2, _ => 0.90);

        Assert.Equal("sensor-or-wiring", Text(scene.Raised(Conditions.TubeCurrentStep).Last(), "cause"));
    }

    [Fact]
    public void A_zero_that_moved_points_to_the_sensor()
    {
        var scene = new Scene();
        for (var day = 0; day < 3; day++)
            RestingDay(scene, day, offset: 0);
        Assert.Empty(scene.Changes);

        for (var day = 3; day < 5; day++)
            RestingDay(scene, day, offset: -1.5);

        Assert.Equal("sensor-or-wiring", Text(scene.Folded(Conditions.TubeCurrentSag, Conditions.TubeCurrentStep).Last(), "cause"));
    }

    [Fact]
    public void A_slow_fall_at_the_top_alone_is_no_step_however_the_jobs_are_mixed()
    {
        var scene = new Scene();
        for (var day = 0; day < 22; day++)
            MixedRuns(scene, day, top: 1 - (0.005 * Math.Max(0, day - 6)));

        Assert.Single(scene.Raised(Conditions.TubeCurrentSag));
        Assert.Empty(scene.Raised(Conditions.TubeCurrentStep));
        Assert.Equal("ageing-tube", Text(scene.Raised(Conditions.TubeCurrentSag).Single(), "cause"));
    }

    [Fact]
    public void Two_high_powers_that_age_apart_make_no_step_when_the_mix_of_jobs_changes()
    {
        var scene = new Scene(withRecord: false);
        for (var day = 0; day < 60; day++)
        {
            // Three weeks of both, then by turns a week of one job and a week of the other.
            var aged = Math.Max(0, day - 8);
            var share = day < 21 ? 0.5 : day / 7 % 2 == 0 ? 0.9 : 0.1;
            HighDay(scene, day, share, top: 1 - (0.0026 * aged), next: 1 - (0.0004 * aged));
        }

        Assert.Empty(scene.Raised(Conditions.TubeCurrentStep));
        Assert.NotEmpty(scene.Raised(Conditions.TubeCurrentSag));
    }

    [Fact]
    public void A_gross_fall_over_night_at_all_powers_is_one_step_and_said_once()
    {
        var scene = new Scene();
        for (var day = 0; day < 6; day++)
            MixedRuns(scene, day, top: 1);
        Assert.Empty(scene.Changes);

        for (var day = 6; day < 9; day++)
            MixedRuns(scene, day, top: 0.75, below: 0.75);

        var step = Assert.Single(scene.Raised(Conditions.TubeCurrentStep));
        Assert.InRange(step.Time.SecondsSince(At(6, 8)), 0, 600);
        Assert.InRange(Number(step, "ratio_before"), 0.97, 1.03);
        Assert.InRange(Number(step, "ratio_after"), 0.72, 0.78);
        Assert.DoesNotContain(scene.Changes, c => c.State is AlarmState.ReturnedUnacknowledged or AlarmState.Normal);
    }

    [Fact]
    public void Engravings_that_nobody_recorded_are_not_judged_as_cuts()
    {
        var scene = new Scene(withRecord: false);
        for (var day = 0; day < 12; day++)
        {
            Day(scene, day, hours: 1, _ => 1.0);
            Engrave(scene, day);
        }

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_power_between_two_learned_ones_is_judged_at_once()
    {
        var scene = new Scene(withRecord: false);
        for (var day = 0; day < 3; day++)
            MixedDay(scene, day, top: 1.0);

        scene.Now = At(3, 8);
        scene.Begin();
        // On the chord between 48 % and 66 % the tube would carry 15.7 mA; it carries a tenth less.
        for (var t = 0; t < 3600; t++)
            scene.Say(1, new(Channel.TubeCurrent, Current(0.86 * 0.9)), new(Channel.Power, 57), new(Channel.Lasing, t % 20 == 0 ? 0 : 1));
        scene.End();

        Assert.Single(scene.Raised(Conditions.TubeCurrentSag));
    }

    [Fact]
    public void Above_the_rated_current_is_told_after_its_delay()
    {
        var scene = new Scene(MonitorOptions.Default with { TubeCurrent = new() { RatedCurrentMilliamps = 17 } });
        scene.Begin();

        for (var t = 0; t < 10; t++)
            scene.Say(1, new(Channel.TubeCurrent, 18.2), new(Channel.Power, 66), new(Channel.Lasing, 1));

        var alarm = Assert.Single(scene.Raised(Conditions.TubeCurrentHigh));
        Assert.Equal(5, alarm.Time.SecondsSince(Scene.Start), 3);
    }

    /// <summary>A minute of cutting, half a minute of rest, in turn; the sensor's zero may be off.</summary>
    private void RestingDay(Scene scene, int day, double offset)
    {
        scene.Now = At(day, 8);
        scene.Begin();
        for (var t = 0; t < 2 * 3600; t++)
        {
            var on = t % 90 < 60;
            scene.Say(1, new(Channel.TubeCurrent, Current(on ? 1 : 0) + offset), new(Channel.Power, 66), new(Channel.Lasing, on ? 1 : 0));
        }

        scene.End();
    }

    /// <summary>Runs of half an hour, a share of them at 75 % and the rest at 66 %.</summary>
    private void HighDay(Scene scene, int day, double share, double top, double next)
    {
        var wander = 0.004 * Gauss();
        for (var run = 0; run < 10; run++)
        {
            scene.Now = At(day, 8) + TimeSpan.FromMinutes(40 * run);
            scene.Begin();
            var high = run < 10 * share;
            for (var t = 0; t < 900; t++)
                scene.Say(1, new(Channel.TubeCurrent, Current((high ? 1.12 * top : next) * (1 + wander))), new(Channel.Power, high ? 75 : 66), new(Channel.Lasing, t % 20 == 0 ? 0 : 1));
            scene.End();
        }
    }

    /// <summary>A quarter of an hour at the top, three quarters below it, run after run.</summary>
    private void MixedRuns(Scene scene, int day, double top, double below = 1)
    {
        var wander = 0.006 * Gauss();
        for (var run = 0; run < 4; run++)
        {
            scene.Now = At(day, 8 + run);
            scene.Begin();
            for (var t = 0; t < 3000; t++)
            {
                var high = t < 750;
                scene.Say(1, new(Channel.TubeCurrent, Current((high ? top : 0.72 * below) * (1 + wander))), new(Channel.Power, high ? 66 : 48), new(Channel.Lasing, t % 20 == 0 ? 0 : 1));
            }

            scene.End();
        }
    }

    /// <summary>Half an hour of a picture: mostly ragged, with smooth parts of another darkness each day.</summary>
    private void Engrave(Scene scene, int day)
    {
        scene.Now = At(day, 10);
        scene.Begin("picture");
        var darkness = 0.35 + (0.5 * _random.NextDouble());
        for (var t = 0; t < 1800; t++)
        {
            var duty = t % 300 < 60 ? darkness : _random.NextDouble();
            scene.Say(1, new(Channel.TubeCurrent, Current(0.7 * duty)), new(Channel.Power, 40), new(Channel.Lasing, 1));
        }

        scene.End();
    }

    private static string Text(AlarmChange change, string name) => change.Evidence.Single(e => e.Name == name).Text!;

    private static Instant When(string text) => Instant.From(DateTimeOffset.Parse(text, System.Globalization.CultureInfo.InvariantCulture));

    private static double Number(AlarmChange change, string name) => change.Evidence.Single(e => e.Name == name).Number!.Value;

    /// <summary>Three quarters of the time at 48 %, the rest at 66 %.</summary>
    private void MixedDay(Scene scene, int day, double top)
    {
        scene.Now = At(day, 8);
        scene.Begin();
        for (var t = 0; t < 2 * 3600; t++)
        {
            var high = t % 400 >= 300;
            scene.Say(1, new(Channel.TubeCurrent, Current(high ? top : 0.72)), new(Channel.Power, high ? 66 : 48), new(Channel.Lasing, t % 20 == 0 ? 0 : 1));
        }

        scene.End();
    }

    private static Instant At(int day, double hour) => Scene.Start + TimeSpan.FromDays(day) + TimeSpan.FromHours(hour - 8);

    /// <summary>Cuts of some seconds with gaps, corners that dip, samples that straddle edges; noise, wander and quantisation.</summary>
    private void Day(Scene scene, int day, double hours, Func<Instant, double> ratio)
    {
        scene.Now = At(day, 8);
        var wander = 0.006 * Gauss();
        scene.Begin();
        var end = scene.Now + TimeSpan.FromHours(hours);
        while (scene.Now < end)
        {
            var cut = 4 + _random.Next(25);
            for (var t = 0; t < cut; t++)
            {
                var corner = _random.NextDouble() < 0.15 ? 0.6 + (0.4 * _random.NextDouble()) : 1;
                var edge = t == 0 ? _random.NextDouble() : 1;
                var current = Current(ratio(scene.Now) * (1 + wander) * corner * edge);
                scene.Say(1, new(Channel.TubeCurrent, current), new(Channel.Power, 66), new(Channel.Lasing, 1));
            }

            var gap = 1 + _random.Next(4);
            for (var t = 0; t < gap; t++)
                scene.Say(1, new(Channel.TubeCurrent, Current(t == 0 ? 0.3 * _random.NextDouble() : 0)), new(Channel.Power, 66), new(Channel.Lasing, 0));
        }

        scene.End();
        scene.Say(1, new ChannelValue(Channel.Lasing, 0));
    }

    private double Current(double ratio) => Math.Round((18.2 * ratio * (1 + (0.012 * Gauss()))) / 0.1) * 0.1;

    private double Gauss() => Math.Sqrt(-2 * Math.Log(1 - _random.NextDouble())) * Math.Cos(2 * Math.PI * _random.NextDouble());
}
