using LaserWatch.Alarms;
using LaserWatch.Evaluation.Simulation;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Scenarios;

/// <summary>Sensors that freeze, fall silent or say what cannot be.</summary>
internal static class SensorFaults
{
    private const double Day = 86_400;
    private const double Hour = 3600;
    private const double Onset = (10 * Day) + (10.25 * Hour);

    /// <summary>A pressure sensor that freezes between runs says that there is no air, and nobody can know better at first.</summary>
    private static readonly string[] Follow =
        [Conditions.SensorStuck, Conditions.SensorImplausible, Conditions.SensorSilent, Conditions.AirPressureLow, Conditions.AirPressureLost];

    public static IEnumerable<Scenario> All()
    {
        foreach (var shop in new[] { Shops.Plain, Shops.Radiating, Shops.ValveWithBeam, Shops.Cheap })
        {
            foreach (var channel in new[] { Channel.TubeCurrent, Channel.AirPressure, Channel.CoolantIn })
            {
                var slow = channel == Channel.CoolantIn;
                yield return Of("sensor: frozen", channel, shop, FaultKind.SensorFrozen, 1, [Conditions.SensorStuck], slow ? 5 : 1);
                yield return Of("sensor: silent", channel, shop, FaultKind.SensorSilent, 1, [Conditions.SensorSilent], 0.5);
            }

            yield return Of("sensor: broken thermistor reads −55 °C", Channel.CoolantIn, shop, FaultKind.SensorBroken, -55, [Conditions.SensorImplausible], 0.1);
            yield return Of(
                "sensor: current wire torn, reads 0", Channel.TubeCurrent, shop, FaultKind.SensorBroken, 0.001,
                [Conditions.SensorStuck, Conditions.SensorImplausible, Conditions.TubeCurrentStep, Conditions.TubeCurrentSag], 1);
        }
    }

    private static Scenario Of(string family, Channel channel, ShopPlan shop, FaultKind kind, double size, string[] accepted, double patienceHours) =>
        new(family, channel.Name, shop, 51, 13, 60, [new Fault(kind, size, Onset, Channel: channel)], new Truth(
            Expectation.Finding, accepted, Follow, Onset, Onset, patienceHours * Hour,
            DelayClock.Beam, 1))
        { Quick = shop == Shops.Plain && channel == Channel.TubeCurrent && kind == FaultKind.SensorFrozen };
}
