using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>A part of the demonstration.</summary>
/// <param name="From">When it begins, in the machine's time.</param>
/// <param name="Speed">The machine's seconds a second.</param>
/// <param name="Title">What is about to happen, for the console.</param>
public sealed record DemoPart(Instant From, double Speed, string Title);

/// <summary>
/// What the demonstration shows: two proven jobs and a third in which the hose gets a kink; a chiller whose fan is clogged;
/// then days that fly past while the tube weakens.
/// </summary>
/// <remarks>All of it lies in the past, so that the sensors' times are true: it ends shortly before it is started.</remarks>
public sealed class DemoScenario
{
    public const string Machine = "bay1";

    /// <summary>Working days of the last part, of one run each.</summary>
    private const int Days = 16;

    private static readonly TimeSpan DayRun = TimeSpan.FromMinutes(7);

    /// <param name="now">The present time.</param>
    /// <param name="haste">How much faster than a person would like to watch.</param>
    public DemoScenario(Instant now, double haste = 1)
    {
        // The last day's run must be over by now. Whole seconds, so that intervals fall on them.
        var end = new Instant(now.UnixNanoseconds / 1_000_000_000 * 1_000_000_000) - TimeSpan.FromMinutes(2);
        var lastDay = end - DayRun - TimeSpan.FromMinutes(2);
        var begin = lastDay - TimeSpan.FromDays(Days);

        var recorded = begin - TimeSpan.FromDays(30);
        var birch = new JobRecord(
            "birch-6-cut", recorded, "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2));
        var acrylic = new JobRecord(
            "acrylic-3-cut", recorded, "acrylic 3 mm", new PowerPercent(48), 15, new Kilopascals(90), new Milliamps(14));
        Jobs = [birch, acrylic];

        var third = begin + TimeSpan.FromSeconds(230);
        var kink = third + TimeSpan.FromSeconds(45);
        var longJob = third + TimeSpan.FromSeconds(150);
        var firstDay = PlannedShiftOn(0);
        Shifts =
        [
            new PlannedShift(begin, longJob + TimeSpan.FromMinutes(30),
            [
                new PlannedRun(birch, begin + TimeSpan.FromSeconds(15), TimeSpan.FromSeconds(90)),
                new PlannedRun(acrylic, begin + TimeSpan.FromSeconds(125), TimeSpan.FromSeconds(90)),
                new PlannedRun(birch, third, TimeSpan.FromSeconds(120)),
                new PlannedRun(birch, longJob, TimeSpan.FromMinutes(27)),
            ]),
            .. Enumerable.Range(0, Days).Select(day => new PlannedShift(
                PlannedShiftOn(day), PlannedShiftOn(day) + DayRun + TimeSpan.FromMinutes(1),
                [new PlannedRun(birch, PlannedShiftOn(day) + TimeSpan.FromSeconds(20), DayRun)])),
        ];
        MachineOptions = new SimulatedMachineOptions
        {
            Machine = Machine,
            FastInterval = TimeSpan.FromSeconds(1),
            SlowInterval = TimeSpan.FromSeconds(5),
            Faults =
            [
                new SimulatedFault(FaultKind.HoseKink, kink, kink + TimeSpan.FromSeconds(45), 0.75),
                new SimulatedFault(FaultKind.CloggedCooler, longJob + TimeSpan.FromSeconds(30), longJob + TimeSpan.FromMinutes(28), 1),
                new SimulatedFault(FaultKind.AgeingTube, firstDay, Instant.MaxValue, 0.53, TimeSpan.FromDays(Days - 3)),
            ],
        };
        Parts =
        [
            new DemoPart(begin, 20 * haste, "Two proven jobs are cut; then a third, and in the middle of it the air hose gets a kink."),
            new DemoPart(longJob, 140 * haste, "A long job, and the chiller's fan is clogged: the coolant warms."),
            new DemoPart(firstDay, 400 * haste, $"{Days} working days fly past, a run each, and the tube weakens."),
        ];

        Instant PlannedShiftOn(int day) => begin + TimeSpan.FromDays(day + 1);
    }

    public IReadOnlyList<JobRecord> Jobs { get; }

    public SimulatedMachineOptions MachineOptions { get; }

    public IReadOnlyList<PlannedShift> Shifts { get; }

    public IReadOnlyList<DemoPart> Parts { get; }

    /// <summary>The machine's samples and events from beginning to end; good until the next.</summary>
    public IEnumerable<SimulatedMoment> Moments() => new SimulatedMachine(MachineOptions).Run(Shifts);
}
