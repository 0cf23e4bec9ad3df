using LaserWatch.Alarms;
using LaserWatch.Evaluation.Simulation;
using LaserWatch.Rules;

namespace LaserWatch.Evaluation.Scenarios;

/// <summary>What goes wrong between compressor and cut.</summary>
internal static class AirFaults
{
    private const double Day = 86_400;
    private const double Hour = 3600;
    private const double Sudden = (8 * Day) + (11 * Hour);
    private static readonly string[] Low = [Conditions.AirPressureLow, Conditions.AirPressureLost];
    private static readonly string[] Lost = [Conditions.AirPressureLost, Conditions.AirPressureLow];
    private static readonly string[] Restricted = [Conditions.AirPathRestricted];

    /// <summary>What a low pressure alone cannot tell apart.</summary>
    private static readonly string[] BeforeTheSensor = ["kink-upstream", "supply-loss", "regulator-set", "filter-clogged", "leak"];

    /// <summary>What less flow through an unchanged nozzle cannot tell apart.</summary>
    private static readonly string[] LessSupply = ["kink-upstream", "supply-loss", "regulator-set", "filter-clogged"];
    private static readonly string[] MoreWayOut = ["leak", "nozzle-missing"];
    private static readonly string[] AllLow = [.. BeforeTheSensor, "nozzle-missing"];

    private static readonly ShopPlan[] Seen =
    [
        Shops.Plain, Shops.Sawtooth, Shops.ValveWithBeam, Shops.SlowMeter, Shops.AirOnly, Shops.Inferred, Shops.Cheap, Shops.RasterHeavy,
        Shops.MinuteMeter,
    ];

    public static IEnumerable<Scenario> All() => [.. Falls(), .. Creeps(), .. Nozzles(), .. NotMaterial()];

    private static IEnumerable<Scenario> Falls()
    {
        foreach (var shop in Seen)
        {
            foreach (var seed in new ulong[] { 21, 22 })
            {
                foreach (var (size, patience) in new[] { (0.18, 60.0), (0.3, 20.0), (0.6, 20.0) })
                    yield return Exposed("air: kink", shop, seed, new Fault(FaultKind.LineKinked, size, Sudden), Low, patience) with { Quick = shop == Shops.Plain && seed == 21 };
                foreach (var (size, patience) in new[] { (0.18, 60.0), (0.35, 20.0) })
                    yield return Exposed("air: leak", shop, seed, new Fault(FaultKind.LineLeaks, size, Sudden), Low, patience);
                yield return Exposed("air: regulator set wrong", shop, seed, new Fault(FaultKind.RegulatorLow, 0.25, Sudden), Low, 20);
                yield return Exposed("air: valve does not open", shop, seed, new Fault(FaultKind.ValveShut, 1, Sudden), Lost, 20) with { Size = "all", Quick = shop == Shops.Plain && seed == 21 };
                yield return Exposed("air: compressor trips", shop, seed, new Fault(FaultKind.CompressorTripped, 1, Sudden), Low, 40) with { Size = "all" };
                yield return Exposed("air: nozzle missing", shop, seed, new Fault(FaultKind.NozzleOpen, 3, Sudden), Low, 20, AllLow) with { Size = "conductance × 4" };
            }
        }

        foreach (var seed in new ulong[] { 21, 22, 23 })
        {
            yield return Exposed("air: kink, flow fitted", Shops.Flow, seed, new Fault(FaultKind.LineKinked, 0.3, Sudden), Low, 20, LessSupply);
            yield return Exposed("air: leak, flow fitted", Shops.Flow, seed, new Fault(FaultKind.LineLeaks, 0.35, Sudden), Low, 20, MoreWayOut);
            yield return Exposed("air: nozzle missing, flow fitted", Shops.Flow, seed, new Fault(FaultKind.NozzleOpen, 3, Sudden), Low, 20, MoreWayOut) with { Size = "conductance × 4" };
        }
    }

    private static IEnumerable<Scenario> Creeps()
    {
        foreach (var shop in new[] { Shops.Plain, Shops.Sawtooth, Shops.AirOnly, Shops.Cheap })
        {
            var fault = new Fault(FaultKind.RegulatorLow, 0.16, 7 * Day, 30 * Day);
            yield return new Scenario(
                "air: slow creep", "16 % in 30 days", shop, 23, 42, 60, [fault],
                new Truth(Expectation.Finding, Low, [], fault.Onset, fault.Reaches(0.10), 120, DelayClock.LowAir, 0) { Causes = BeforeTheSensor });
        }
    }

    private static IEnumerable<Scenario> Nozzles()
    {
        foreach (var seed in new ulong[] { 24, 25, 26 })
        {
            foreach (var size in new[] { 0.35, 0.6, 0.9 })
            {
                var fault = new Fault(FaultKind.NozzleClogged, size, Sudden);
                yield return new Scenario(
                    "air: nozzle clogged, flow fitted", Percent(size), Shops.Flow, seed, 11, 60, [fault],
                    new Truth(Expectation.Finding, Restricted, [], Sudden, Sudden, 300, DelayClock.Air, 1) { Causes = ["nozzle-obstructed"] }) with
                { Quick = seed == 24 && size == 0.6 };
            }

            // Without a record nobody has said what the pressure should be.
            yield return new Scenario(
                "air: kink, no job records", "30 %", Shops.NoRecords, seed, 14, 60, [new Fault(FaultKind.LineKinked, 0.3, Sudden)],
                new Truth(Expectation.Invisible, [.. Low, .. Restricted], [], Sudden, Sudden, 0, DelayClock.Air, 1));

            // A rise of a twentieth is within what people set: nobody can tell it by pressure alone, or only by the mean of many runs.
            yield return new Scenario(
                "air: nozzle clogged, pressure only", "60 %", Shops.Plain, seed, 14, 60, [new Fault(FaultKind.NozzleClogged, 0.6, Sudden)],
                new Truth(Expectation.Invisible, Restricted, [], Sudden, Sudden, 0, DelayClock.Air, 1));
        }
    }

    private static IEnumerable<Scenario> NotMaterial()
    {
        foreach (var shop in Seen)
        {
            yield return new Scenario(
                "air: 2 % fall", "2 %", shop, 27, 18, 60, [new Fault(FaultKind.LineKinked, 0.02, Sudden)], Truth.Healthy with { Onset = Sudden });
        }
    }

    private static Scenario Exposed(string family, ShopPlan shop, ulong seed, Fault fault, string[] accepted, double patience, string[]? causes = null)
    {
        var interval = shop.Sensors.Where(group => group.Channels.Contains(Telemetry.Channel.AirPressure)).Min(group => group.Interval);
        return new Scenario(
            family, Percent(fault.Size), shop, seed, 11, 60, [fault],
            new Truth(
                Expectation.Finding, accepted, [Conditions.AirPressureLow, Conditions.AirPressureLost], fault.Onset, fault.Onset, patience + (3 * interval),
                DelayClock.LowAir, interval)
            {
                Causes = causes ?? BeforeTheSensor,
            });
    }

    private static string Percent(double size) => FormattableString.Invariant($"{size * 100:0} %");
}
