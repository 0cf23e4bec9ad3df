using LaserWatch.Alarms;
using LaserWatch.Evaluation.Simulation;
using LaserWatch.Jobs;
using LaserWatch.Rules;

namespace LaserWatch.Evaluation.Scenarios;

/// <summary>What makes a tube's current fall, or only seem to: at once, slowly, at every command or at the highest.</summary>
internal static class TubeFaults
{
    private const double Day = 86_400;
    private const double Hour = 3600;
    private const double BlockSeconds = 60;

    /// <summary>A year of 750 hours of cutting, in blocks.</summary>
    private const double BlocksBetweenFalseAlarms = 45_000;

    /// <summary>Thursday of the second week, half past ten.</summary>
    private const double Sudden = (10 * Day) + (10.5 * Hour);

    /// <summary>Monday of the third week.</summary>
    private const double Slow = 14 * Day;

    private static readonly ShopPlan[] Seen = [Shops.Plain, Shops.RasterHeavy, Shops.Inferred, Shops.Cheap, Shops.SlowMeter, Shops.CurrentOnly, Shops.MinuteMeter];

    public static IEnumerable<Scenario> All() => [.. SuddenFalls(), .. SlowFalls(), .. AtTheLimit(), .. NotTheTube(), .. NotMaterial()];

    private static IEnumerable<Scenario> SuddenFalls()
    {
        foreach (var shop in Seen)
        {
            foreach (var (size, patience) in new[] { (0.06, 6.0), (0.10, 2.0), (0.25, 1.0) })
            {
                foreach (var seed in new ulong[] { 1, 2 })
                {
                    yield return At("tube: supply step", shop, seed, 15, new Fault(FaultKind.SupplyFalls, size, Sudden), Falls, patience) with
                    {
                        Quick = shop == Shops.Plain && seed == 1,
                    };
                }
            }

            yield return At("tube: command path", shop, 3, 15, new Fault(FaultKind.CommandFalls, 0.12, Sudden), Falls, 2);
            yield return At("tube: return bypassed", shop, 4, 15, new Fault(FaultKind.ReturnBypassed, 0.15, Sudden), Falls, 2);
        }
    }

    private static IEnumerable<Scenario> SlowFalls()
    {
        foreach (var shop in Seen)
        {
            foreach (var (size, days, accelerates) in new[] { (0.08, 42, false), (0.14, 42, false), (0.25, 35, true) })
            {
                var fault = new Fault(FaultKind.SupplyFalls, size, Slow, days * Day, double.PositiveInfinity, accelerates);
                // Two percent past the material fall is late.
                yield return Ramp(accelerates ? "tube: accelerating sag" : "tube: slow sag", shop, 5, 21 + days, fault, fault.Reaches(0.05), fault.Reaches(0.07)) with
                {
                    Quick = shop == Shops.Plain && size == 0.14,
                };
            }
        }
    }

    private static IEnumerable<Scenario> AtTheLimit()
    {
        foreach (var seed in new ulong[] { 6, 7, 8 })
        {
            foreach (var size in new[] { 0.15, 0.25 })
            {
                var fault = new Fault(FaultKind.LimitFalls, size, Slow, 42 * Day);
                yield return Ramp("tube: ageing at the limit", Shops.AtLimit, seed, 63, fault, fault.Reaches(LimitFor(0.05)), fault.Reaches(LimitFor(0.08)), ["ageing-tube", "failing-supply"]);
            }

            yield return At(
                "tube: low mains for days", Shops.AtLimit, seed, 17, new Fault(FaultKind.MainsLow, LimitFor(0.09), Sudden, 0, Sudden + (5 * Day)), Falls, 4, ["low-mains", "failing-supply"]);
        }
    }

    private static IEnumerable<Scenario> NotTheTube()
    {
        foreach (var shop in new[] { Shops.Plain, Shops.Cheap, Shops.Inferred })
        {
            var gain = new Fault(FaultKind.CurrentGainFalls, 0.12, Slow, 42 * Day);
            yield return Ramp("tube: sensor gain drifts", shop, 9, 63, gain, gain.Reaches(0.05), gain.Reaches(0.07));
            var zero = new Fault(FaultKind.CurrentZeroFalls, 2, Slow, 42 * Day);
            yield return Ramp("tube: sensor zero drifts", shop, 10, 63, zero, zero.Reaches(0.9), zero.Reaches(1.3), ["sensor-or-wiring"]) with { Size = "2 mA" };
            var light = new Fault(FaultKind.LightFalls, 0.3, Slow, 35 * Day);
            yield return new Scenario(
                "tube: light lost, supply regulates", "30 %", shop, 11, 56, 60, [light],
                new Truth(Expectation.Invisible, [], [], Slow, light.Reaches(0.1), 0, DelayClock.Cutting, 0));
        }
    }

    private static IEnumerable<Scenario> NotMaterial()
    {
        foreach (var shop in Seen)
        {
            yield return Small("tube: 2 % step", shop, 12, 24, new Fault(FaultKind.SupplyFalls, 0.02, Sudden));
            yield return Small("tube: 2 % slowly", shop, 13, 50, new Fault(FaultKind.SupplyFalls, 0.02, Slow, 30 * Day));
        }
    }

    private static readonly string[] Falls = [Conditions.TubeCurrentStep, Conditions.TubeCurrentSag];

    /// <summary>At once and at every command alike: by current alone nobody can say more.</summary>
    private static readonly string[] Proportional = ["failing-supply", "command-path", "sensor-or-wiring"];
    private static readonly string[] SlowProportional = ["failing-supply", "ageing-tube", "sensor-or-wiring"];

    private static Scenario At(string family, ShopPlan shop, ulong seed, int days, Fault fault, string[] accepted, double patienceHours, string[]? causes = null)
    {
        var interval = shop.Sensors.Min(group => group.Interval);
        var samples = Math.Max(BlockSeconds / interval * 0.8, 1);
        var sigma = Math.Sqrt((Math.Pow(shop.Instruments.CurrentNoise, 2) / samples) + Math.Pow(0.7 * shop.Tube.FastStraying, 2));
        var least = LeastDelays.Blocks(fault.Size / sigma, BlocksBetweenFalseAlarms) * BlockSeconds;
        return new Scenario(
            family, Percent(fault.Size), shop, seed, days, 60, [fault],
            new Truth(Expectation.Finding, accepted, [Conditions.TubeCurrentSag, Conditions.TubeLife], fault.Onset, fault.Onset, patienceHours * Hour, DelayClock.Cutting, least)
            {
                Causes = causes ?? Proportional, Shape = "step",
            });
    }

    /// <param name="material">When the fall is material; until then nobody need be told.</param>
    /// <param name="late">When it should have been told; the beam hours of a working day between them.</param>
    private static Scenario Ramp(string family, ShopPlan shop, ulong seed, int days, Fault fault, double material, double late, string[]? causes = null)
    {
        var cuts = shop.Jobs.Where(job => job.Mode == CutMode.Vector && job.PowerPercent >= Machine.LeastSteadyPercent).Sum(job => job.Share * job.Minutes)
            / shop.Jobs.Sum(job => job.Share * job.Minutes);
        var workingDays = Math.Max((late - material) / Day * 5 / 7, 2);
        return new Scenario(
            family, Percent(fault.Size), shop, seed, days, 60, [fault],
            new Truth(
                Expectation.Finding, [Conditions.TubeCurrentSag], [Conditions.TubeLife], fault.Onset, material, workingDays * cuts * shop.BeamHours * Hour, DelayClock.Cutting, 0)
            {
                Causes = causes ?? SlowProportional, Shape = "ramp",
            });
    }

    private static Scenario Small(string family, ShopPlan shop, ulong seed, int days, Fault fault) => new(
        family, Percent(fault.Size), shop, seed, days, 60, [fault], Truth.Healthy with { Onset = fault.Onset });

    /// <summary>The fall of the voltage limit at which the highest job's current falls by a fraction.</summary>
    private static double LimitFor(double fall)
    {
        var plan = Shops.AtLimit.Tube;
        var command = Shops.AtLimit.Jobs.Max(job => job.PowerPercent) / 100;
        var whole = Tube.SteadyMilliamps(plan, command, 1, 1);
        double low = 0, high = 0.9;
        for (var i = 0; i < 50; i++)
        {
            var middle = (low + high) / 2;
            if (Tube.SteadyMilliamps(plan, command, 1, 1 - middle) > whole * (1 - fall))
                low = middle;
            else
                high = middle;
        }

        return high;
    }

    private static string Percent(double size) => FormattableString.Invariant($"{size * 100:0} %");
}
