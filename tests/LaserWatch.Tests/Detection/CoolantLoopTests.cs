using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public class CoolantLoopTests
{
    private static double Spring(double hour) => 19 + (0.6 * hour);

    [Fact]
    public void A_quarter_of_a_year_in_good_health_with_a_heat_wave_raises_no_drift_by_radiator()
    {
        var shop = new LoopShop(11) { Interval = 20 };

        for (var day = 0; day < 60; day++)
            shop.Day(day, 6, h => 11 + (day * 0.1) + (day is > 40 and < 48 ? 6 : 0) + (0.6 * h));

        AssertSilent(shop);
    }

    [Fact]
    public void A_quarter_of_a_year_in_good_health_with_cold_mornings_raises_no_drift_by_chiller()
    {
        var shop = new LoopShop(12) { Interval = 20, Chiller = true, Band = 1, Litres = 30 };

        for (var day = 0; day < 60; day++)
            shop.Day(day, 6, h => 21 - (day * 0.15) + (day is 20 or 21 ? 6 : 0) + (0.7 * h));

        AssertSilent(shop);
    }

    [Fact]
    public void A_stopped_fan_is_told_within_the_hour_and_named()
    {
        var shop = new LoopShop(13);
        Healthy(shop, 8);

        shop.Day(8, 6, Spring, h => shop.WattsPerKelvin = h < 2 ? 60 : 28);

        AssertDrift(shop, Scene.Start + TimeSpan.FromHours((8 * 24) + 2), 1.5, "stopped-fan", 1.5, 8);
    }

    [Fact]
    public void A_radiator_that_fouls_over_weeks_is_told_and_named()
    {
        var shop = new LoopShop(14) { Interval = 20 };
        Healthy(shop, 10);

        for (var day = 10; day < 40; day++)
        {
            var fouled = (day - 10) / 30.0;
            shop.WattsPerKelvin = 60 / (1 + (1.2 * fouled));
            shop.Day(day, 6, h => Spring(h) + (day * 0.1));
        }

        var alarm = shop.Raised(Conditions.CoolantDrift).First();
        Assert.Equal("fouled-cooler", Text(alarm, "cause"));
        Assert.True(Number(alarm, "gradual_probability") > 0.5);
        Assert.InRange((alarm.Time - Scene.Start).TotalDays, 14, 36);
    }

    [Theory]
    [InlineData(3.5, "warmer")]
    [InlineData(-3.5, "colder")]
    public void A_chillers_set_point_moved_is_told_within_two_hours_and_named(double by, string direction)
    {
        var shop = new LoopShop(15) { Chiller = true };
        Healthy(shop, 8, 3);

        shop.Day(8, 6, h => Spring(h) + 3, h => shop.SetPoint = h < 2 ? 20 : 20 + by);

        var alarm = AssertDrift(shop, Scene.Start + TimeSpan.FromHours((8 * 24) + 2), 2, "set-point", by - 1.2, by + 1.2);
        Assert.Contains(direction, alarm.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_thermometer_that_reads_wrong_is_told_from_a_loop_that_is_warmer()
    {
        var shop = new LoopShop(16) { Chiller = true };
        Healthy(shop, 8, 3);

        shop.Day(8, 6, h => Spring(h) + 3, h => shop.SensorOff = h < 2 ? 0 : -3);

        // The chiller has its own thermometer and goes on as before.
        AssertDrift(shop, Scene.Start + TimeSpan.FromHours((8 * 24) + 2), 2, "sensor", -4, -2);
        Assert.Empty(shop.Raised(Conditions.CoolantFlowLow));
    }

    [Fact]
    public void A_weak_pump_without_a_flow_sensor_is_told_by_the_heat_balance_within_minutes()
    {
        var shop = new LoopShop(17);
        Healthy(shop, 4);

        shop.Day(4, 4, Spring, h => shop.Flow = h < 2 ? 3 : 1.8);

        var alarm = Assert.Single(shop.Raised(Conditions.CoolantFlowLow));
        Assert.InRange((alarm.Time - Scene.Start).TotalMinutes - (4 * 24 * 60) - 120, 1, 15);
        Assert.InRange(alarm.Value!.Value, 50, 70);
        Assert.Contains("heat balance", alarm.Message, StringComparison.Ordinal);
        Assert.Equal(AlarmPriority.High, alarm.Priority);
    }

    [Fact]
    public void A_current_sensor_that_reads_too_little_is_no_weak_pump()
    {
        var shop = new LoopShop(22) { HasCurrent = true, Interval = 2 };
        Healthy(shop, 4);

        shop.Day(4, 4, Spring, h => shop.CurrentRead = h < 1 ? 1 : 0.65);

        Assert.NotEmpty(shop.Raised(Conditions.TubeCurrentSag).Concat(shop.Raised(Conditions.TubeCurrentStep)));
        Assert.Empty(shop.Raised(Conditions.CoolantFlowLow));
    }

    [Fact]
    public void A_fifth_less_flow_is_within_tolerance_and_healthy_months_say_nothing()
    {
        var shop = new LoopShop(18) { Interval = 10 };
        Healthy(shop, 20);

        shop.Flow = 2.4;
        shop.Day(20, 6, Spring);
        shop.Day(21, 6, Spring);

        Assert.Empty(shop.Raised(Conditions.CoolantFlowLow));
    }

    [Fact]
    public void A_cleaned_radiator_entered_in_the_log_is_a_new_normal()
    {
        var shop = new LoopShop(19) { WattsPerKelvin = 30 };
        Healthy(shop, 6);

        Serve(shop, "radiator", "cleaned");
        shop.WattsPerKelvin = 60;
        for (var day = 6; day < 12; day++)
            shop.Day(day, 5, Spring);
        AssertSilent(shop);

        // And the new one is watched.
        for (var day = 12; day < 14; day++)
            shop.Day(day, 5, Spring, h => shop.WattsPerKelvin = 28);
        Assert.NotEmpty(shop.Raised(Conditions.CoolantDrift));
    }

    [Fact]
    public void A_set_point_changed_by_the_shop_and_entered_in_the_log_clears_the_alarm()
    {
        var shop = new LoopShop(20) { Chiller = true };
        Healthy(shop, 6, 3);
        shop.SetPoint = 23.5;
        shop.Day(6, 5, h => Spring(h) + 3);
        Assert.Single(shop.Raised(Conditions.CoolantDrift));

        Serve(shop, "chiller", "set");

        Assert.Equal(AlarmState.ReturnedUnacknowledged, shop.Scene.Changes.Last(c => c.Condition == Conditions.CoolantDrift).State);
        for (var day = 7; day < 10; day++)
            shop.Day(day, 5, h => Spring(h) + 3);
        Assert.Single(shop.Raised(Conditions.CoolantDrift));
    }

    [Fact]
    public void A_learned_loop_tells_when_its_limit_will_be_reached_with_an_interval()
    {
        var shop = new LoopShop(21) { WattsPerKelvin = 55 };
        Healthy(shop, 6);

        // A hotter room and full load than ever: the loop does what it always did, only the limit comes in reach.
        Instant? reached = null;
        shop.Day(6, 3, _ => 26.5, _ => reached = reached is null && shop.Coolant > 30 ? shop.Scene.Now : reached, duty: 1);

        var alarm = Assert.Single(shop.Raised(Conditions.CoolantTimeToLimit));
        var minutes = (reached!.Value - alarm.Time).TotalMinutes;
        Assert.InRange(minutes, 2, 12);
        Assert.InRange(minutes, Number(alarm, "minutes_soonest") - 1, alarm.Evidence.Any(e => e.Name == "minutes_latest") ? Number(alarm, "minutes_latest") + 1 : 60);
        Assert.Empty(shop.Raised(Conditions.CoolantDrift));
    }

    private static void Healthy(LoopShop shop, int days, double warmer = 0)
    {
        for (var day = 0; day < days; day++)
            shop.Day(day, 5, h => Spring(h) + warmer + (0.3 * (day % 3)));
        AssertSilent(shop);
    }

    private static void Serve(LoopShop shop, string part, string action) => shop.Scene.Changes.AddRange(shop.Scene.Watch.Observe(
        new ServiceEvent("bay1", shop.Scene.Now, part, action, null, null, ServiceEvent.NoDetails)));

    private static void AssertSilent(LoopShop shop) =>
        Assert.Empty(shop.Scene.Changes.Select(c => $"{c.Time} {c.Condition} {c.State} {c.Message} {string.Join(' ', c.Evidence)}"));

    private static AlarmChange AssertDrift(LoopShop shop, Instant began, double hours, string cause, double least, double greatest)
    {
        var alarm = Assert.Single(shop.Raised(Conditions.CoolantDrift));
        Assert.True(Text(alarm, "cause") == cause, alarm.Message + string.Join(' ', alarm.Evidence));
        Assert.InRange((alarm.Time - began).TotalHours, 0, hours);
        Assert.InRange(Number(alarm, "shift_kelvins"), least, greatest);
        return alarm;
    }

    private static string Text(AlarmChange alarm, string name) => alarm.Evidence.Single(e => e.Name == name).Text!;

    private static double Number(AlarmChange alarm, string name) => alarm.Evidence.Single(e => e.Name == name).Number!.Value;
}
