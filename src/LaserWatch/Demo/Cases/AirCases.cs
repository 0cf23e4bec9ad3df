using LaserWatch.Telemetry;
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
            "plywood-morning", [birch, acrylic], Machine(101, new SimulatedFault(FaultKind.HoseKink, began, Instant.MaxValue, 0.62)),
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
}
