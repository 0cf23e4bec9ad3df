using static LaserWatch.Demo.Cases.CaseScenarios;

namespace LaserWatch.Demo.Cases;

/// <summary>Cases of air assist.</summary>
internal static class AirCases
{
    /// <summary>Proven jobs all morning; then the head pulls the hose into a kink in the middle of a cut.</summary>
    public static CaseScenario HoseKink()
    {
        var on = Time(2026, 3, 9, 9);
        var began = on + TimeSpan.FromMinutes(51.5);
        var (birch, acrylic) = (Birch(Time(2026, 2, 2)), Acrylic(Time(2026, 2, 2)));
        return new(
            "plywood-morning", [birch, acrylic], Machine(101, new SimulatedFault(FaultKind.HoseKink, began, Telemetry.Instant.MaxValue, 0.62)),
            [
                new PlannedShift(on, on + TimeSpan.FromMinutes(66),
                [
                    Run(birch, on + TimeSpan.FromMinutes(2), 7), Run(birch, on + TimeSpan.FromMinutes(10.5), 7), Run(acrylic, on + TimeSpan.FromMinutes(19), 5),
                    Run(birch, on + TimeSpan.FromMinutes(26), 7), Run(acrylic, on + TimeSpan.FromMinutes(36), 5), Run(birch, on + TimeSpan.FromMinutes(46), 11),
                    Run(birch, on + TimeSpan.FromMinutes(60), 5),
                ]),
            ],
            began);
    }

    /// <summary>A long cut of many parts; the compressor's thermal switch trips, and the tank runs empty in some minutes.</summary>
    public static CaseScenario CompressorTrip()
    {
        var on = Time(2026, 4, 14, 12, 30);
        var began = on + TimeSpan.FromMinutes(67);
        var (birch, mdf) = (Birch(Time(2026, 2, 2)), Mdf(Time(2026, 2, 9)));
        return new(
            "long-cut", [birch, mdf], Machine(102, new SimulatedFault(FaultKind.CompressorTrip, began, Telemetry.Instant.MaxValue, 1)),
            [
                new PlannedShift(on, on + TimeSpan.FromMinutes(80),
                [
                    .. Runs(on + TimeSpan.FromMinutes(3), 2, (mdf, 8), (birch, 8), (mdf, 8), (birch, 8)), Run(birch, on + TimeSpan.FromMinutes(46), 33),
                ]),
            ],
            began);
    }

    /// <summary>Acrylic took another pressure; back on MDF, somebody turns the regulator back and stops too early.</summary>
    public static CaseScenario WrongRegulatorSetting()
    {
        var on = Time(2026, 5, 5, 7, 0);
        var began = on + TimeSpan.FromMinutes(60);
        var (acrylic, mdf) = (Acrylic(Time(2026, 2, 2)), Mdf(Time(2026, 2, 9)));
        return new(
            "change-of-jobs", [acrylic, mdf], Machine(103, new SimulatedFault(FaultKind.WrongRegulatorSetting, began, Telemetry.Instant.MaxValue, 0.165)),
            [
                new PlannedShift(on, on + TimeSpan.FromMinutes(86),
                [
                    .. Runs(on + TimeSpan.FromMinutes(2), 1.5, (mdf, 7), (mdf, 7), (mdf, 7), (acrylic, 7), (mdf, 7)), Run(acrylic, on + TimeSpan.FromMinutes(49), 8),
                    Run(mdf, on + TimeSpan.FromMinutes(62), 9), Run(mdf, on + TimeSpan.FromMinutes(74), 9),
                ]),
            ],
            began);
    }

    /// <summary>Part after part of MDF, whose tar closes the nozzle little by little: the flow goes, and the pressure rises.</summary>
    public static CaseScenario NozzleClogging()
    {
        var on = Time(2026, 6, 18, 8, 0);
        var began = on + TimeSpan.FromMinutes(62);
        var (birch, mdf) = (Birch(Time(2026, 2, 2)), Mdf(Time(2026, 2, 9)));
        return new(
            "mdf-series", [birch, mdf],
            Machine(104, new SimulatedFault(FaultKind.NozzleObstruction, began, Telemetry.Instant.MaxValue, 0.42, TimeSpan.FromMinutes(24))),
            [new PlannedShift(on, on + TimeSpan.FromMinutes(98), Runs(on + TimeSpan.FromMinutes(2), 1.5, (mdf, 8), (birch, 8), (mdf, 8), (mdf, 8), (birch, 8), (mdf, 8), (mdf, 8), (mdf, 8), (mdf, 8), (mdf, 8)))],
            began);
    }
}
