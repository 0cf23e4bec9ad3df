using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>Room of 25 °C and 60 %RH, 60 L/min: 35.8 mL an hour by 7 bar and 30 °C, so 40 mL after 67 minutes.</summary>
public class WaterTrapTests
{
    private const double MillilitresAnHour = 0.059648 * 1000 * 0.6;

    [Fact]
    public void The_trap_is_due_when_four_fifths_of_it_have_condensed_once_until_it_is_drained()
    {
        var scene = Drained();
        var due = Use(scene, hours: 4);

        var alarm = Assert.Single(scene.Raised(Conditions.WaterTrapDue));
        Assert.Equal((AlarmPriority.Low, 40.0, "mL"), (alarm.Priority, alarm.Limit!.Value, alarm.Unit));
        Assert.Equal(40 / MillilitresAnHour * 3600, alarm.Time.SecondsSince(due), 30.0);

        scene.Changes.AddRange(scene.Watch.Observe(new ServiceEvent("bay1", scene.Now, "water-trap", "drained", null, null, ServiceEvent.NoDetails)));
        scene.Say(1, new ChannelValue(Channel.Lasing, 0));
        Assert.Equal(AlarmState.ReturnedUnacknowledged, scene.Changes[^1].State);

        Use(scene, hours: 1);
        Assert.Single(scene.Raised(Conditions.WaterTrapDue));
        Use(scene, hours: 0.3);
        Assert.Equal(2, scene.Raised(Conditions.WaterTrapDue).Count());
    }

    [Fact]
    public void A_trap_that_was_only_looked_at_is_not_emptied()
    {
        var scene = Drained();
        Use(scene, hours: 1);
        scene.Changes.AddRange(scene.Watch.Observe(new ServiceEvent("bay1", scene.Now, "water-trap", "inspected", null, null, ServiceEvent.NoDetails)));
        Use(scene, hours: 0.3);

        Assert.Single(scene.Raised(Conditions.WaterTrapDue));
    }

    [Fact]
    public void Without_the_rooms_humidity_nothing_is_reckoned_and_the_rule_says_so()
    {
        var scene = new Scene();
        scene.Begin();
        for (var t = 0; t < 4 * 360; t++)
            scene.Say(10, new(Channel.Lasing, 1), new(Channel.AirPressure, 210), new(Channel.AirFlow, 60), new(Channel.AmbientTemperature, 25));

        Assert.Empty(scene.Raised(Conditions.WaterTrapDue));
        Assert.Contains("ambient_humidity: never heard", scene.Watch.Status.Rules.Single(r => r.Rule == Conditions.WaterTrapDue).Lacks);
    }

    [Fact]
    public void Without_flow_the_nozzle_tells_the_air_used_while_a_run_is_under_way()
    {
        var scene = Drained();
        var start = scene.Now;
        scene.Begin();
        for (var t = 0; t < 4 * 360; t++)
            scene.Say(10, new(Channel.Lasing, 1), new(Channel.AirPressure, 210), new(Channel.AmbientTemperature, 25), new(Channel.AmbientHumidity, 60));

        var rate = MillilitresAnHour * SonicConductance.NozzleFlow(0.35, 210) / 60;
        Assert.Equal(40 / rate * 3600, Assert.Single(scene.Raised(Conditions.WaterTrapDue)).Time.SecondsSince(start), 30.0);
    }

    [Fact]
    public void Before_anybody_has_logged_a_drained_trap_nobody_knows_of_one_and_the_rule_says_so()
    {
        var scene = new Scene();
        Use(scene, hours: 4);

        Assert.Empty(scene.Changes);
        Assert.Contains(scene.Watch.Status.Rules.Single(r => r.Rule == Conditions.WaterTrapDue).Lacks, lack => lack.StartsWith("no drained trap", StringComparison.Ordinal));
    }

    [Fact]
    public void A_trap_that_drains_itself_is_never_due_and_a_tank_keeps_most_of_the_water()
    {
        var itself = Drained(MonitorOptions.Default with { WaterTrap = new() { AutomaticDrain = true } });
        Use(itself, hours: 4);
        Assert.Empty(itself.Raised(Conditions.WaterTrapDue));

        var tank = Drained(MonitorOptions.Default with { WaterTrap = new() { KeptInTank = true } });
        Use(tank, hours: 4);
        Assert.Empty(tank.Raised(Conditions.WaterTrapDue));
    }

    private static Scene Drained(MonitorOptions? options = null)
    {
        var scene = new Scene(options);
        scene.Watch.Observe(new ServiceEvent("bay1", scene.Now, "water-trap", "drained", null, null, ServiceEvent.NoDetails));
        return scene;
    }

    private static Instant Use(Scene scene, double hours)
    {
        var start = scene.Now;
        for (var t = 0; t < hours * 360; t++)
            scene.Say(10, new(Channel.AirFlow, 60), new(Channel.AmbientTemperature, 25), new(Channel.AmbientHumidity, 60));
        return start;
    }
}
