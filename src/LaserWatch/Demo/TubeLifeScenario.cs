using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>Two years of one tube on a supply with little to spare: from the day it was put in until it no longer cuts.</summary>
/// <remarks>
/// Fixed in time, so that the same recording comes of it every time. A shop with one machine, which runs some two and a half hours a working day, closed at the turn
/// of the year and two weeks each summer; parts are served, a hose kinks, a chiller clogs, a sensor dies, as happens in two years.
/// </remarks>
public sealed class TubeLifeScenario
{
    public const string Machine = "bay1";

    /// <summary>The day the tube was put in.</summary>
    public static readonly Instant Installed = Day(2024, 3, 4);

    private const int Seed = 20_240_304;
    private const int Weeks = 104;

    private readonly List<ServiceEvent> _services = [];

    public TubeLifeScenario()
    {
        var recorded = Installed + TimeSpan.FromHours(7);
        var birch = new JobRecord(
            "birch-6-cut", recorded, "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(17.9));
        var acrylic = new JobRecord(
            "acrylic-3-cut", recorded, "acrylic 3 mm", new PowerPercent(48), 15, new Kilopascals(90), new Milliamps(14));
        var oak = new JobRecord(
            "oak-8-cut", recorded, "oak 8 mm", new PowerPercent(66), 6, new Kilopascals(230), new Milliamps(17.9));
        var slate = new JobRecord(
            "slate-raster", recorded, "slate", new PowerPercent(40), 300, new Kilopascals(60), null, CutMode.Raster);
        Jobs = [birch, acrylic, oak, slate];
        PlanServices();
        Shifts = [.. PlanShifts()];
        MachineOptions = new SimulatedMachineOptions
        {
            Machine = Machine,
            Seed = Seed,
            Step = TimeSpan.FromMilliseconds(500),
            FastInterval = TimeSpan.FromSeconds(2),
            SlowInterval = TimeSpan.FromSeconds(10),
            Channels = [.. new SimulatedMachineOptions().Channels, Channel.Runtime],
            SupplyLimitMilliamps = 20,
            MainsDeviation = 0.004,
            AgePerThousandHours = 0,
            BeamHours = 0,
            Faults =
            [
                new SimulatedFault(FaultKind.AgeingTube, Installed, Instant.MaxValue, 0.215, TimeSpan.FromDays(7 * Weeks)),
                new SimulatedFault(FaultKind.HoseKink, Day(2024, 7, 10), Day(2024, 7, 11), 0.8),
                new SimulatedFault(FaultKind.SensorSilent, Day(2024, 11, 19), Day(2024, 11, 22), 1, default, Channel.AirPressure),
                new SimulatedFault(FaultKind.CloggedCooler, Day(2025, 7, 8), Day(2025, 7, 12), 0.97),
                new SimulatedFault(FaultKind.NozzleObstruction, Day(2025, 10, 14), Day(2025, 10, 17), 0.5),
            ],
        };
    }

    public IReadOnlyList<JobRecord> Jobs { get; }

    public SimulatedMachineOptions MachineOptions { get; }

    public IReadOnlyList<PlannedShift> Shifts { get; }

    /// <summary>The machine's samples and events from the first day to the last; each good until the next.</summary>
    public IEnumerable<SimulatedMoment> Moments() => new SimulatedMachine(MachineOptions).Run(Shifts);

    private static Instant Day(int year, int month, int day) => Instant.From(new DateTimeOffset(year, month, day, 0, 0, 0, TimeSpan.Zero));

    private IEnumerable<PlannedShift> PlanShifts()
    {
        var noise = new SeededNoise(Seed);
        foreach (var shift in WorkPlan.Weekdays(Seed, Installed, 7 * Weeks, Jobs))
        {
            if (IsClosed(shift.On))
                continue;
            var hours = TimeSpan.FromMinutes((int)noise.Uniform(100, 200));
            var on = shift.On;
            var services = _services.Where(service => service.At <= on).ToList();
            _services.RemoveAll(service => service.At <= on);
            yield return new PlannedShift(on, on + hours, [.. shift.Runs.Where(run => run.End < on + hours - TimeSpan.FromMinutes(5))]) { Services = services };
        }
    }

    private static bool IsClosed(Instant on)
    {
        var day = on.ToDateTimeOffset();
        return day is { Month: 12, Day: >= 23 } or { Month: 1, Day: <= 2 } or { Month: 8, Day: >= 5 and <= 18 };
    }

    private void PlanServices()
    {
        Add(Installed, "tube", "installed", "T-000001", "new tube, 80 W class");
        for (var week = 2; week < Weeks; week += 4)
            Add(Installed + TimeSpan.FromDays(7 * week), "lens", "cleaned");
        for (var week = 1; week < Weeks; week += 6)
            Add(Installed + TimeSpan.FromDays((7 * week) + 2), "water-trap", "drained");
        for (var week = 26; week < Weeks; week += 26)
            Add(Installed + TimeSpan.FromDays((7 * week) + 1), "coolant", "changed");
        Add(Day(2024, 7, 11), "air-hose", "replaced", note: "kinked behind the gantry");
        Add(Day(2024, 11, 22), "air-pressure-sensor", "replaced");
        Add(Day(2025, 7, 12), "chiller", "cleaned", note: "condenser full of dust");
        Add(Day(2025, 10, 17), "nozzle", "replaced");
        AddTestCut(Day(2024, 3, 5), "through");
        AddTestCut(Day(2024, 12, 3), "through");
        AddTestCut(Day(2025, 9, 2), "through");
        AddTestCut(Day(2026, 1, 13), "not-through");
        AddTestCut(Day(2026, 2, 24), "not-through");
    }

    private void Add(Instant day, string part, string action, string? serial = null, string? note = null) =>
        _services.Add(new ServiceEvent(Machine, day + TimeSpan.FromHours(7.5), part, action, serial, note, ServiceEvent.NoDetails));

    private void AddTestCut(Instant day, string outcome) =>
        _services.Add(new ServiceEvent(
            Machine, day + TimeSpan.FromHours(7.75), "test-cut", "made", null, "birch plywood 6 mm",
            new Dictionary<string, string> { ["power"] = "66", ["speed"] = "11", ["outcome"] = outcome }));
}
