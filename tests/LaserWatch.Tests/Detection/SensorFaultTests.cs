using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public class SensorFaultTests
{
    private readonly Random _random = new(3);

    [Fact]
    public void A_channel_that_stops_during_a_run_is_silent_and_its_rules_are_blind()
    {
        var scene = Running(seconds: 300);
        var stop = scene.Now;

        Speak(scene, 60, withPressure: false);

        var alarm = Assert.Single(scene.Raised(Conditions.SensorSilent));
        Assert.Contains("air_pressure", alarm.Message, StringComparison.Ordinal);
        Assert.InRange(alarm.Time.SecondsSince(stop), 29, 33);
        Assert.Contains("air_pressure: silent", scene.Watch.Status.Rules.Single(r => r.Rule == Conditions.AirPressureLow).Lacks);
        Assert.Empty(scene.Raised(Conditions.AirPressureLow));

        Speak(scene, 5);
        Assert.Equal(AlarmState.ReturnedUnacknowledged, scene.Changes.Last(c => c.Condition == Conditions.SensorSilent).State);
    }

    [Fact]
    public void A_standing_alarm_stands_while_its_sensor_is_silent()
    {
        var scene = Running(seconds: 300);
        Speak(scene, 30, pressure: 140);
        Assert.Single(scene.Raised(Conditions.AirPressureLow));

        Speak(scene, 300, withPressure: false);

        Assert.Equal(AlarmState.Unacknowledged, scene.Changes.Last(c => c.Condition == Conditions.AirPressureLow).State);
    }

    [Fact]
    public void A_shop_that_switches_off_for_the_night_is_not_told_so()
    {
        var scene = Running(seconds: 600);
        scene.End();
        for (var hour = 0; hour < 14 * 60; hour++)
        {
            scene.Now += TimeSpan.FromMinutes(1);
            scene.Changes.AddRange(scene.Watch.Tick(scene.Now));
        }

        scene.Begin();
        Speak(scene, 120);

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_whole_machine_that_falls_silent_with_the_beam_on_in_an_announced_run_is_told()
    {
        var scene = Running(seconds: 600);
        var stop = scene.Now;

        for (var t = 0; t < 60; t++)
        {
            scene.Now += TimeSpan.FromSeconds(1);
            scene.Changes.AddRange(scene.Watch.Tick(scene.Now));
        }

        Assert.InRange(Assert.Single(scene.Raised(Conditions.SensorSilent)).Time.SecondsSince(stop), 29, 33);
    }

    [Fact]
    public void Channels_that_speak_only_when_they_change_are_never_silent()
    {
        var scene = new Scene();
        scene.Begin();
        scene.Say(1, new(Channel.Lasing, 1), new(Channel.Power, 66));
        for (var t = 0; t < 1200; t++)
            scene.Say(1, new(Channel.AirPressure, 208 + _random.NextDouble()), new(Channel.TubeCurrent, 18 + _random.NextDouble()));

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_current_that_stays_while_the_beam_goes_on_and_off_is_stuck()
    {
        var scene = Running(seconds: 300);

        for (var cut = 0; cut < 10; cut++)
        {
            for (var t = 0; t < 10; t++)
                scene.Say(1, new(Channel.Lasing, t < 6 ? 1 : 0), new(Channel.AirPressure, 208 + _random.NextDouble()), new(Channel.TubeCurrent, 18.25));
        }

        Assert.Contains("tube_current", Assert.Single(scene.Raised(Conditions.SensorStuck)).Message, StringComparison.Ordinal);
        Assert.Empty(scene.Raised(Conditions.TubeCurrentSag));
    }

    [Fact]
    public void A_pressure_frozen_for_minutes_after_hours_of_moving_is_stuck()
    {
        var scene = Running(seconds: 2 * 3600);

        var frozen = scene.Now;
        Speak(scene, 600, pressure: 208.5, still: true);

        Assert.InRange(Assert.Single(scene.Raised(Conditions.SensorStuck)).Time.SecondsSince(frozen), 100, 400);
    }

    [Fact]
    public void A_coarse_thermometer_in_a_steady_loop_is_not_stuck()
    {
        var scene = new Scene();
        scene.Begin();
        for (var t = 0; t < 5 * 3600; t++)
        {
            scene.Say(1, new(Channel.Lasing, 1), new(Channel.AirPressure, 208 + _random.NextDouble()),
                new(Channel.CoolantIn, Math.Round(2 * (20 + (0.6 * Math.Sin(t / 2000.0)))) / 2));
        }

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_coarse_flow_meter_that_comes_to_rest_between_its_steps_is_not_stuck()
    {
        var scene = new Scene();
        scene.Begin();
        for (var t = 0; t < 8 * 3600; t++)
        {
            // For two hours the flow lies on the border of two steps and flickers; then between them, and is still.
            var flow = t < 2 * 3600 ? 3.05 : 3.0;
            scene.Say(1, new(Channel.Lasing, 1), new(Channel.AirPressure, 208 + _random.NextDouble()),
                new(Channel.CoolantFlow, Math.Round(flow + (0.02 * (_random.NextDouble() - 0.5)), 1)));
        }

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void Two_values_that_cannot_be_are_implausible_and_no_rule_believes_them()
    {
        var scene = Running(seconds: 300);
        scene.Say(1, new(Channel.Lasing, 1), new(Channel.CoolantIn, 21));

        scene.Say(1, new(Channel.Lasing, 1), new(Channel.CoolantIn, -127));
        Assert.Empty(scene.Raised(Conditions.SensorImplausible));
        for (var t = 0; t < 60; t++)
            scene.Say(1, new(Channel.Lasing, 1), new(Channel.CoolantIn, -127));

        Assert.Equal(-127, Assert.Single(scene.Raised(Conditions.SensorImplausible)).Value);
        Assert.Empty(scene.Raised(Conditions.CoolantCold));
        Assert.Equal(61, scene.Watch.Status.NotJudged["implausible"]);

        for (var t = 0; t < 6; t++)
            scene.Say(1, new(Channel.Lasing, 1), new(Channel.CoolantIn, 21));
        Assert.Equal(AlarmState.ReturnedUnacknowledged, scene.Changes.Last(c => c.Condition == Conditions.SensorImplausible).State);
    }

    [Fact]
    public void A_second_faulty_channel_is_announced_anew()
    {
        var scene = Running(seconds: 300);
        for (var t = 0; t < 5; t++)
            scene.Say(1, new(Channel.Lasing, 1), new(Channel.CoolantIn, -127));
        for (var t = 0; t < 5; t++)
            scene.Say(1, new(Channel.Lasing, 1), new(Channel.CoolantIn, -127), new(Channel.AirPressure, 9999));

        Assert.Equal(2, scene.Raised(Conditions.SensorImplausible).Count());
    }

    [Fact]
    public void A_loop_that_says_it_has_failed_is_implausible()
    {
        var scene = Running(seconds: 60);

        scene.Changes.AddRange(scene.Watch.ObserveSensorFailure(Channel.AirPressure, scene.Now));
        scene.Changes.AddRange(scene.Watch.ObserveSensorFailure(Channel.AirPressure, scene.Now + TimeSpan.FromSeconds(1)));

        Assert.Single(scene.Raised(Conditions.SensorImplausible));
    }

    private Scene Running(int seconds)
    {
        var scene = new Scene();
        scene.Begin();
        Speak(scene, seconds);
        Assert.Empty(scene.Changes);
        return scene;
    }

    private void Speak(Scene scene, int seconds, bool withPressure = true, double pressure = 208, bool still = false)
    {
        for (var t = 0; t < seconds; t++)
        {
            List<ChannelValue> values = [new(Channel.Lasing, 1), new(Channel.Power, 66), new(Channel.TubeCurrent, 18 + _random.NextDouble())];
            if (withPressure)
                values.Add(new(Channel.AirPressure, still ? pressure : pressure + _random.NextDouble()));
            scene.Say(1, [.. values]);
        }
    }
}
