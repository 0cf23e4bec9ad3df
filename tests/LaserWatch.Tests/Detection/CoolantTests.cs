using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public class CoolantTests
{
    private readonly Random _random = new(5);

    [Fact]
    public void Above_the_limit_for_its_delay_is_hot_and_below_the_deadband_for_its_own_is_not()
    {
        var scene = new Scene();

        Run(scene, 60, _ => 29.8, room: 24);
        Run(scene, 60, _ => 30.4, room: 24);
        Run(scene, 120, _ => 29.2, room: 24);

        Assert.Equal(
            [(Conditions.CoolantHot, AlarmState.Unacknowledged, 80.0), (Conditions.CoolantHot, AlarmState.ReturnedUnacknowledged, 180.0)],
            scene.Changes.Where(c => c.Condition == Conditions.CoolantHot).Select(c => (c.Condition, c.State, Math.Round(c.Time.SecondsSince(Scene.Start)))));
    }

    [Fact]
    public void Below_the_cold_limit_is_cold()
    {
        var scene = new Scene();

        Run(scene, 60, _ => 4, room: 10);

        Assert.Single(scene.Raised(Conditions.CoolantCold));
    }

    [Fact]
    public void A_humid_room_over_cold_coolant_is_a_condensation_risk()
    {
        var scene = new Scene();

        // 26 °C and 70 %RH: dew point 20.1 °C (WMO-No. 8, Magnus); 21.5 °C is within the 2 K margin.
        Run(scene, 300, _ => 21.5, room: 26, humidity: 70);

        var alarm = Assert.Single(scene.Raised(Conditions.CondensationRisk));
        Assert.Equal(22.1, alarm.Limit!.Value, 1);
    }

    [Fact]
    public void A_steady_rise_toward_the_limit_is_told_about_ten_minutes_before()
    {
        var scene = new Scene();
        Run(scene, 1800, _ => 22, room: 24);

        Run(scene, 3600, t => Math.Min(22 + (t / 60.0 * 0.4), 31), room: 24);

        var alarm = Assert.Single(scene.Raised(Conditions.CoolantTimeToLimit));
        var reached = Scene.Start + TimeSpan.FromSeconds(1800) + TimeSpan.FromMinutes(8 / 0.4);
        Assert.InRange((reached - alarm.Time).TotalMinutes, 5, 11);
        Assert.True(alarm.Time < scene.Raised(Conditions.CoolantHot).Single().Time);
    }

    [Fact]
    public void A_mornings_warm_up_that_settles_below_the_limit_is_no_alarm()
    {
        for (var day = 0; day < 5; day++)
        {
            var scene = new Scene();
            Run(scene, 7200, t => 18 + (9 * (1 - Math.Exp(-t / 900.0))), room: 24);
            Assert.Empty(scene.Changes);
        }
    }

    [Fact]
    public void Flow_a_third_below_the_usual_is_low_and_none_is_urgent()
    {
        var scene = new Scene();
        Flow(scene, 1200, 3.0);
        Flow(scene, 30, 1.9);
        Assert.Equal(AlarmPriority.High, Assert.Single(scene.Raised(Conditions.CoolantFlowLow)).Priority);

        var none = scene.Now;
        Flow(scene, 5, 0.0);

        var urgent = scene.Raised(Conditions.CoolantFlowLow).Last();
        Assert.Equal((AlarmPriority.Urgent, 1.0), (urgent.Priority, urgent.Time.SecondsSince(none)));
    }

    [Fact]
    public void A_heat_wave_that_warms_the_radiator_with_the_room_is_no_drift()
    {
        var scene = new Scene();

        for (var day = 0; day < 30; day++)
        {
            var wave = day > 18 ? Math.Min(9, (day - 18) * 2.0) : 0;
            LoopDay(scene, day, hours: 5, room: h => 20 + wave + (0.6 * h), rest: (room, load) => room + (4.5 * load));
        }

        Assert.DoesNotContain(scene.Changes, c => c.Condition == Conditions.CoolantDrift);
    }

    [Fact]
    public void A_clogged_fan_is_drift_within_hours()
    {
        var scene = new Scene();
        for (var day = 0; day < 8; day++)
            LoopDay(scene, day, hours: 5, room: h => 19 + (0.6 * h), rest: (room, load) => room + (4.5 * load));
        Assert.Empty(scene.Changes);

        LoopDay(scene, 8, hours: 5, room: h => 19 + (0.6 * h), rest: (room, load) => room + (9 * load));

        var alarm = Assert.Single(scene.Raised(Conditions.CoolantDrift));
        Assert.InRange((alarm.Time - (Scene.Start + TimeSpan.FromDays(8))).TotalHours, 0.3, 3.5);
        Assert.InRange(alarm.Evidence.Single(e => e.Name == "shift_kelvins").Number!.Value, 1.5, 6);
    }

    [Fact]
    public void A_chillers_set_point_moved_up_is_drift()
    {
        var scene = new Scene();
        for (var day = 0; day < 8; day++)
            LoopDay(scene, day, hours: 5, room: h => 22 + (0.8 * h), rest: (_, _) => 20, timeConstant: 240);
        Assert.Empty(scene.Changes);

        LoopDay(scene, 8, hours: 5, room: h => 22 + (0.8 * h), rest: (_, _) => 23.5, timeConstant: 240);

        Assert.Single(scene.Raised(Conditions.CoolantDrift));
    }

    private void Run(Scene scene, int seconds, Func<int, double> coolant, double room, double humidity = 35)
    {
        for (var t = 0; t < seconds; t++)
        {
            scene.Say(1, new(Channel.Lasing, 1), new(Channel.CoolantIn, Round(coolant(t), 0.06)), new(Channel.AmbientTemperature, room),
                new(Channel.AmbientHumidity, humidity));
        }
    }

    private static void Flow(Scene scene, int seconds, double flow)
    {
        for (var t = 0; t < seconds; t++)
            scene.Say(1, new(Channel.Lasing, 1), new(Channel.CoolantFlow, flow));
    }

    /// <summary>A working day of a first-order loop, every five seconds: cuts and pauses, sensor noise and steps.</summary>
    private void LoopDay(Scene scene, int day, double hours, Func<double, double> room, Func<double, double, double> rest, double timeConstant = 700)
    {
        scene.Now = Scene.Start + TimeSpan.FromDays(day);
        var coolant = rest(room(0), 0);
        var duty = 0.3 + (0.5 * _random.NextDouble());
        for (var t = 0.0; t < hours * 3600; t += 5)
        {
            if ((int)t % 1200 == 0)
                duty = 0.3 + (0.5 * _random.NextDouble());
            var on = _random.NextDouble() < duty;
            var roomNow = room(t / 3600);
            coolant += (rest(roomNow, duty * 0.66) - coolant) * 5 / timeConstant;
            scene.Say(5, new(Channel.Lasing, on ? 1 : 0), new(Channel.Power, 66), new(Channel.CoolantIn, Round(coolant + (0.05 * Gauss()), 0.06)),
                new(Channel.AmbientTemperature, Round(roomNow + (0.1 * Gauss()), 0.1)));
        }
    }

    private static double Round(double value, double step) => Math.Round(value / step) * step;

    private double Gauss() => Math.Sqrt(-2 * Math.Log(1 - _random.NextDouble())) * Math.Cos(2 * Math.PI * _random.NextDouble());
}
