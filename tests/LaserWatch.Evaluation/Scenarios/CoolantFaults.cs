using LaserWatch.Alarms;
using LaserWatch.Evaluation.Simulation;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Scenarios;

/// <summary>What goes wrong in the coolant loop.</summary>
internal static class CoolantFaults
{
    private const double Day = 86_400;
    private const double Hour = 3600;
    private const double BlockSeconds = 300;
    private const double MaterialKelvins = 2;
    private const double Sudden = (10 * Day) + (10 * Hour);
    private const double Slow = 14 * Day;
    private static readonly string[] Drift = [Conditions.CoolantDrift];
    private static readonly string[] Flow = [Conditions.CoolantFlowLow];
    private static readonly string[] DriftOrHeat = [Conditions.CoolantDrift, Conditions.CoolantTimeToLimit, Conditions.CoolantHot];

    /// <summary>Water that stands in the tube becomes hotter than a coolant sensor is believed to say.</summary>
    private static readonly string[] Follow =
        [Conditions.CoolantDrift, Conditions.CoolantHot, Conditions.CoolantTimeToLimit, Conditions.CoolantFlowLow, Conditions.SensorImplausible];

    private static readonly ShopPlan NoFlowMeter = Shops.Plain with
    {
        Name = "no-flow-meter",
        Sensors =
        [
            new SensorGroup(1, 0.01, 0, 0, Channel.TubeCurrent, Channel.Power, Channel.Lasing, Channel.AirPressure),
            new SensorGroup(2, 0.02, 0, 0, Channel.CoolantIn, Channel.CoolantOut), new SensorGroup(30, 0.02, 0, 0, Channel.AmbientTemperature),
        ],
    };

    private static readonly ShopPlan[] Radiators = [Shops.Radiating, Shops.SlowMeter, Shops.Cheap, Shops.Garage];
    private static readonly ShopPlan[] Chillers = [Shops.Plain, Shops.MinuteMeter, Shops.TwoShifts];

    public static IEnumerable<Scenario> All() => [.. RadiatorFaults(), .. ChillerFaults(), .. PumpFaults(), .. MoistAir(), .. NotMaterial()];

    private static IEnumerable<Scenario> RadiatorFaults()
    {
        foreach (var shop in Radiators)
        {
            foreach (var size in new[] { 0.55, 0.75 })
            {
                var fouling = new Fault(FaultKind.RadiatorLoses, size, Slow, 35 * Day);
                var material = fouling.Reaches(LossFor(shop, MaterialKelvins));
                yield return Of("coolant: radiator fouls", Percent(size), shop, 31, 60, fouling, material, DriftOrHeat, 27 * Hour, 0, "fouled-cooler");
                yield return Of(
                    "coolant: fan clogged or stopped", Percent(size), shop, 32, 16, new Fault(FaultKind.RadiatorLoses, size, Sudden), Sudden, DriftOrHeat, 4 * Hour,
                    SettlingSeconds(shop, size), "stopped-fan", "fouled-cooler") with
                { Quick = shop == Shops.Radiating && size == 0.75 };
            }
        }
    }

    private static IEnumerable<Scenario> ChillerFaults()
    {
        foreach (var shop in Chillers)
        {
            foreach (var kelvins in new[] { 3.0, 6.0 })
            {
                // The water warms by the tube's heat alone; the least delay takes the mean load.
                var warming = kelvins * shop.Loop.Litres * 4180 / (MeanWatts(shop) * 0.6);
                yield return Of(
                    "coolant: set point moved", FormattableString.Invariant($"+{kelvins:0} K"), shop, 33, 16, new Fault(FaultKind.SetPointMoved, kelvins, Sudden), Sudden,
                    Drift, 6 * Hour, Math.Max(warming * MaterialKelvins / kelvins, BlockSeconds), "set-point") with
                { Quick = shop == Shops.Plain && kelvins == 3 };
            }

            yield return Of(
                "coolant: chiller dead", "all", shop, 34, 13, new Fault(FaultKind.ChillerDead, 1, Sudden), Sudden,
                DriftOrHeat, 3 * Hour,
                MaterialKelvins * shop.Loop.Litres * 4180 / (MeanWatts(shop) * 0.6), "stopped-fan", "fouled-cooler", "set-point", "low-coolant");
            var offset = new Fault(FaultKind.CoolantOffset, 4, Slow, 21 * Day);
            yield return Of("coolant: sensor offset drifts", "4 K", shop, 35, 45, offset, offset.Reaches(MaterialKelvins), Drift, 27 * Hour, 0, "sensor");
        }
    }

    private static IEnumerable<Scenario> PumpFaults()
    {
        foreach (var shop in new[] { Shops.Plain, Shops.Radiating, Shops.SlowMeter, Shops.Cheap })
        {
            var interval = shop.Sensors.Where(group => group.Channels.Contains(Channel.CoolantFlow)).Min(group => group.Interval);
            yield return WhileNeeded("coolant: pump weak", "45 %", shop, 36, 13, new Fault(FaultKind.PumpWeak, 0.45, Sudden), Sudden, Flow, 0.1 * Hour, interval);
            yield return WhileNeeded("coolant: pump weak", "70 %", shop, 37, 13, new Fault(FaultKind.PumpWeak, 0.7, Sudden), Sudden, Flow, 0.1 * Hour, interval);
            yield return WhileNeeded("coolant: pump stops", "all", shop, 38, 12, new Fault(FaultKind.PumpWeak, 1, Sudden), Sudden, Flow, 0.1 * Hour, interval) with { Quick = shop == Shops.Plain };
            yield return WhileNeeded("coolant: air in the loop", "30 % of time", shop, 39, 13, new Fault(FaultKind.AirInLoop, 0.4, Sudden), Sudden, Flow, 0.5 * Hour, 8);
            var slowly = new Fault(FaultKind.PumpWeak, 0.5, Slow, 30 * Day);
            yield return WhileNeeded("coolant: pump weakens slowly", "50 % in 30 days", shop, 40, 52, slowly, slowly.Reaches(0.3), Flow, 3 * Hour, 0);
        }

        foreach (var size in new[] { 0.5, 0.75 })
        {
            yield return WhileNeeded(
                "coolant: pump weak, no flow meter", Percent(size), NoFlowMeter, 41, 17, new Fault(FaultKind.PumpWeak, size, Sudden), Sudden,
                [Conditions.CoolantFlowLow, Conditions.CoolantDrift], 2 * Hour, BlockSeconds, "weak-pump");
        }
    }

    private static IEnumerable<Scenario> MoistAir()
    {
        foreach (var shop in new[] { Shops.Plain, Shops.TwoShifts, Shops.ValveWithBeam })
        {
            // The room becomes wet within an hour: in summer, and far past the margin, so that weather does not decide.
            var fault = new Fault(FaultKind.AirMoister, 12, Sudden, Hour);
            yield return Of("coolant: near the dew point", "room becomes humid", shop, 43, 13, fault, fault.Reaches(10), [Conditions.CondensationRisk], 0.25 * Hour, 0) with { StartDay = 182 };
        }
    }

    private static IEnumerable<Scenario> NotMaterial()
    {
        foreach (var shop in Chillers)
            yield return Small("coolant: set point moved a little", "+0.5 K", shop, new Fault(FaultKind.SetPointMoved, 0.5, Sudden));
        foreach (var shop in Radiators)
            yield return Small("coolant: radiator a little dirty", "10 %", shop, new Fault(FaultKind.RadiatorLoses, 0.1, Slow, 7 * Day));
        foreach (var shop in new[] { Shops.Plain, Shops.Radiating })
            yield return Small("coolant: pump a little weaker", "8 %", shop, new Fault(FaultKind.PumpWeak, 0.08, Sudden));
    }

    private static Scenario Of(
        string family, string size, ShopPlan shop, ulong seed, int days, Fault fault, double material, string[] accepted, double patience, double least, params string[] causes) =>
        new(family, size, shop, seed, days, 60, [fault], new Truth(
            Expectation.Finding, accepted, Follow, fault.Onset, material, patience, DelayClock.SwitchedOn, least)
        {
            Causes = causes,
        });

    /// <summary>Flow is judged only while the tube needs it: the delay counts by beam-on time.</summary>
    private static Scenario WhileNeeded(
        string family, string size, ShopPlan shop, ulong seed, int days, Fault fault, double material, string[] accepted, double patience, double least, params string[] causes)
    {
        var scenario = Of(family, size, shop, seed, days, fault, material, accepted, patience, least, causes);
        return scenario with { Truth = scenario.Truth with { Clock = DelayClock.Beam } };
    }

    private static Scenario Small(string family, string size, ShopPlan shop, Fault fault) =>
        new(family, size, shop, 42, 35, 60, [fault], Truth.Healthy with { Onset = fault.Onset });

    /// <summary>Heat of the tube while a run of the shop's first job is under way, W.</summary>
    private static double MeanWatts(ShopPlan shop)
    {
        var job = shop.Jobs[0];
        var cut = job.CutSeconds * Math.Exp(0.18);
        var current = Tube.SteadyMilliamps(shop.Tube, job.PowerPercent / 100, 1, 1);
        return current * shop.Tube.Kilovolts * (1 - shop.Tube.Efficiency) * cut / (cut + 0.15 + job.MoveSeconds);
    }

    /// <summary>The loss of the radiator by which such a run rests so many kelvins warmer, as a fraction.</summary>
    private static double LossFor(ShopPlan shop, double kelvins)
    {
        var rise = CoolantLoop.RestingRise(shop.Loop, MeanWatts(shop));
        double low = 0, high = 0.99;
        for (var i = 0; i < 50; i++)
        {
            var middle = (low + high) / 2;
            if (CoolantLoop.RestingRise(shop.Loop, MeanWatts(shop), 1 - middle) - rise < kelvins)
                low = middle;
            else
                high = middle;
        }

        return high;
    }

    /// <summary>Until the loop has warmed by what is material, at the load of a run, s.</summary>
    private static double SettlingSeconds(ShopPlan shop, double loss)
    {
        var shift = CoolantLoop.RestingRise(shop.Loop, MeanWatts(shop), 1 - loss) - CoolantLoop.RestingRise(shop.Loop, MeanWatts(shop));
        var seconds = shop.Loop.Litres * 4180 / ((shop.Loop.RadiatorWattsPerKelvin * (1 - loss)) + shop.Loop.WallWattsPerKelvin);
        return Math.Max(-seconds * Math.Log(Math.Max(1 - (MaterialKelvins / shift), 0.05)), BlockSeconds);
    }

    private static string Percent(double size) => FormattableString.Invariant($"{size * 100:0} %");
}
