using LaserWatch.Telemetry;
using static LaserWatch.Demo.Cases.CaseScenarios;

namespace LaserWatch.Demo.Cases;

/// <summary>Cases of the cooling.</summary>
internal static class CoolantCases
{
    /// <summary>A radiator with a fan; on the third day a rag has been drawn against its fins, and hardly any air goes through.</summary>
    public static CaseScenario FanClogged()
    {
        var first = Time(2026, 5, 18, 8);
        var third = first + TimeSpan.FromDays(2);
        var began = third + TimeSpan.FromMinutes(52);
        var (birch, mdf) = (Birch(Time(2026, 2, 2)), Mdf(Time(2026, 2, 9)));
        var machine = Machine(105, new SimulatedFault(FaultKind.CloggedCooler, began, Instant.MaxValue, 0.85)) with { Cooler = CoolerKind.Radiator };
        return new(
            "third-day", [birch, mdf], machine,
            [
                Day(first), Day(first + TimeSpan.FromDays(1)),
                new PlannedShift(third, third + TimeSpan.FromMinutes(105), [.. Runs(third + TimeSpan.FromMinutes(2), 2, (birch, 20), (mdf, 22), (birch, 26), (mdf, 25))]),
            ],
            began);

        PlannedShift Day(Instant on) => new(on, on + TimeSpan.FromMinutes(80), [.. Runs(on + TimeSpan.FromMinutes(2), 2, (birch, 24), (mdf, 24), (birch, 24))]);
    }

    /// <summary>No flow meter: the pump's rotor wears within the hour, and only the rise from inlet to outlet shows it.</summary>
    public static CaseScenario PumpWeak()
    {
        var first = Time(2026, 7, 6, 9);
        var second = first + TimeSpan.FromDays(1);
        var began = second + TimeSpan.FromMinutes(40);
        var (birch, mdf) = (Birch(Time(2026, 2, 2)), Mdf(Time(2026, 2, 9)));
        var machine = Machine(106, new SimulatedFault(FaultKind.WeakPump, began, Instant.MaxValue, 0.5, TimeSpan.FromMinutes(15)));
        return new(
            "quiet-tuesday", [birch, mdf], machine with { Channels = [.. machine.Channels.Where(channel => channel != Channel.CoolantFlow)] },
            [
                new PlannedShift(first, first + TimeSpan.FromMinutes(90), [.. Runs(first + TimeSpan.FromMinutes(2), 2, (birch, 20), (mdf, 20), (birch, 20), (mdf, 20))]),
                new PlannedShift(second, second + TimeSpan.FromMinutes(90), [.. Runs(second + TimeSpan.FromMinutes(2), 2, (birch, 20), (mdf, 20), (birch, 20), (mdf, 20))]),
            ],
            began);
    }
}
