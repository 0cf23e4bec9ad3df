using LaserWatch.Telemetry;
using static LaserWatch.Demo.Cases.CaseScenarios;

namespace LaserWatch.Demo.Cases;

/// <summary>Cases of tube and supply.</summary>
internal static class TubeCases
{
    /// <summary>Seven weeks of working days, of each one run only: the tube ages on a supply with little to spare.</summary>
    public static CaseScenario AgeingTube()
    {
        var first = Time(2026, 8, 3, 9);
        var began = first + TimeSpan.FromDays(14);
        var (birch, acrylic) = (Birch(Time(2026, 7, 1), 17.7), Acrylic(Time(2026, 7, 1)));
        var machine = Machine(107, new SimulatedFault(FaultKind.AgeingTube, began, Instant.MaxValue, 0.16, TimeSpan.FromDays(35))) with
        {
            FastInterval = TimeSpan.FromSeconds(2),
            SupplyLimitMilliamps = 20,
            MainsDeviation = 0.004,
            BeamHours = 2900,
            Channels = [Channel.TubeCurrent, Channel.Power, Channel.Lasing, Channel.AirPressure, Channel.CoolantIn, Channel.CoolantOut, Channel.Runtime],
        };
        return new(
            "seven-weeks", [birch, acrylic], machine,
            [
                .. Enumerable.Range(0, 46).Select(day => first + TimeSpan.FromDays(day))
                    .Where(on => on.ToDateTimeOffset().DayOfWeek is not (DayOfWeek.Saturday or DayOfWeek.Sunday))
                    .Select(on => new PlannedShift(on, on + TimeSpan.FromMinutes(14), Runs(on + TimeSpan.FromMinutes(1), 1, (birch, 7), (acrylic, 4)))),
            ],
            began);
    }

    /// <summary>The supply drops to less current in the middle of a run, at every power alike, and stays there.</summary>
    public static CaseScenario FailingSupply()
    {
        var on = Time(2026, 9, 22, 12);
        var began = on + TimeSpan.FromMinutes(71);
        var (birch, acrylic, mdf) = (Birch(Time(2026, 2, 2)), Acrylic(Time(2026, 2, 2)), Mdf(Time(2026, 2, 9)));
        return new(
            "after-lunch", [birch, acrylic, mdf], Machine(108, new SimulatedFault(FaultKind.SupplyLoss, began, Instant.MaxValue, 0.11)),
            [
                new PlannedShift(on, on + TimeSpan.FromMinutes(105),
                    Runs(on + TimeSpan.FromMinutes(2), 2, (birch, 9), (acrylic, 9), (mdf, 9), (birch, 9), (acrylic, 9), (birch, 18), (acrylic, 8), (mdf, 8))),
            ],
            began);
    }
}
