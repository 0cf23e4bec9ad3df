using LaserWatch.Evaluation.Simulation;

namespace LaserWatch.Evaluation.Scenarios;

/// <summary>Machines with nothing wrong, in every kind of shop, with all that a year brings.</summary>
internal static class HealthyScenarios
{
    private const double Day = 86_400;

    /// <summary>Years of every kind of shop, in halves.</summary>
    public static IEnumerable<Scenario> Years()
    {
        foreach (var shop in Shops.WholeYear)
            yield return Of("healthy: year", shop, 1, 182, 0, Year(0));
        foreach (var shop in Shops.WholeYear.Concat(Shops.HalfYear))
            yield return Of("healthy: year", shop, 2, 183, 182, Year(182));
    }

    /// <summary>Hard weeks: each of them is healthy.</summary>
    public static IEnumerable<Scenario> Stresses()
    {
        foreach (var shop in new[] { Shops.Radiating, Shops.Loft, Shops.Garage, Shops.Cheap })
        {
            yield return Of("healthy: heat wave", shop, 11, 42, 161, [Wave(24, 6, 8)]);
            yield return Of("healthy: cold spell", shop, 12, 42, 350, [Wave(24, 6, -7)]);
            yield return Of("healthy: heavy days", shop, 13, 35, 90, [new(FaultKind.MoreWork, 1.5, 21 * Day, 0, 30 * Day)]);
        }

        foreach (var shop in new[] { Shops.Plain, Shops.Inferred, Shops.RasterHeavy, Shops.AtLimit })
        {
            yield return Of("healthy: new tube, 6 % lower", shop, 14, 42, 60, [new(FaultKind.TubeReplaced, 0.06, (21 * Day) + (7 * 3600))]);
            yield return Of("healthy: new tube, 5 % higher", shop, 15, 42, 60, [new(FaultKind.TubeReplaced, -0.05, (21 * Day) + (7 * 3600))]);
        }

        foreach (var shop in new[] { Shops.Quarter })
            yield return Of("healthy: four samples a second", shop, 16, 28, 60, []);
    }

    /// <summary>Some weeks of several shops: for the quick run.</summary>
    public static IEnumerable<Scenario> Weeks()
    {
        foreach (var shop in new[] { Shops.Plain, Shops.Radiating, Shops.RasterHeavy, Shops.Inferred, Shops.Sawtooth, Shops.Cheap, Shops.SlowMeter, Shops.ValveWithBeam })
            yield return Of("healthy: weeks", shop, 3, 25, 120, []) with { Quick = true };
        yield return Of("healthy: heat wave", Shops.Loft, 17, 33, 168, [Wave(21, 5, 7)]) with { Quick = true };
    }

    private static Scenario Of(string family, ShopPlan shop, ulong seed, int days, int startDay, IReadOnlyList<Fault> stresses) =>
        new(family, shop.Name, shop, seed, days, startDay, stresses, Truth.Healthy);

    private static Fault[] Year(int from)
    {
        // Two heat waves in summer, two cold spells in winter, a busy fortnight before the holidays.
        List<Fault> year = [];
        foreach (var (day, kelvins) in new[] { (20, -5.0), (45, -4.0), (190, 6.0), (225, 7.0) })
        {
            if (day >= from && day < from + 175)
                year.Add(Wave(day - from, 6, kelvins));
        }

        if (from > 0)
            year.Add(new Fault(FaultKind.MoreWork, 0.8, (330 - from) * Day, 0, (345 - from) * Day));
        return [.. year];
    }

    /// <summary>A stretch of days warmer or colder by so many kelvins, coming within a day.</summary>
    private static Fault Wave(double day, double days, double kelvins) =>
        new(FaultKind.RoomWarmer, kelvins, day * Day, Day, (day + days) * Day);
}
