using LaserWatch.Jobs;
using LaserWatch.Quantities;
using static LaserWatch.Demo.Cases.CaseScenarios;

namespace LaserWatch.Demo.Cases;

/// <summary>Cases in which nothing is wrong: to raise no false alarm is half of the trade.</summary>
internal static class HealthyCases
{
    /// <summary>Four jobs, one of them a raster, all as they were proven.</summary>
    public static CaseScenario PlainDay()
    {
        var on = Time(2026, 10, 6, 8);
        var (birch, acrylic, mdf) = (Birch(Time(2026, 2, 2)), Acrylic(Time(2026, 2, 2)), Mdf(Time(2026, 2, 9)));
        var slate = new JobRecord("slate-raster", Time(2026, 2, 9), "slate", new PowerPercent(40), 300, new Kilopascals(60), null, CutMode.Raster);
        return new(
            "four-jobs", [birch, acrylic, mdf, slate], Machine(109),
            [
                new PlannedShift(on, on + TimeSpan.FromMinutes(96),
                    Runs(on + TimeSpan.FromMinutes(3), 2, (birch, 8), (mdf, 7), (acrylic, 6), (birch, 8), (slate, 12), (mdf, 9), (acrylic, 8), (birch, 12))),
            ],
            null);
    }

    /// <summary>July under the roof: warm coolant on a radiator, and an old regulator that lets the compressor's sawtooth through.</summary>
    public static CaseScenario HotAfternoon()
    {
        var on = Time(2026, 7, 15, 12, 15);
        var (acrylic, mdf) = (Acrylic(Time(2026, 2, 2)), Mdf(Time(2026, 2, 9)));
        var machine = Machine(112) with { Cooler = CoolerKind.Radiator, RegulatorSupplyEffect = 0.06, MainsDeviation = 0.02 };
        return new(
            "july-afternoon", [acrylic, mdf], machine,
            [
                new PlannedShift(on, on + TimeSpan.FromMinutes(210),
                [
                    .. Runs(on + TimeSpan.FromMinutes(25), 3, (acrylic, 4), (mdf, 4), (acrylic, 5)),
                    .. Runs(on + TimeSpan.FromMinutes(47), 2, (mdf, 15), (acrylic, 12), (mdf, 15), (acrylic, 15), (mdf, 14), (mdf, 16), (acrylic, 16), (mdf, 18), (mdf, 20)),
                ]),
            ],
            null);
    }
}
