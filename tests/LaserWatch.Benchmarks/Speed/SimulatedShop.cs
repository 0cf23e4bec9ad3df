using LaserWatch.Demo;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>What the benches of the rules are fed with: simulated machines at work, from their beginning.</summary>
internal static class SimulatedShop
{
    private static readonly Instant Monday = Instant.From(new DateTimeOffset(2026, 3, 2, 0, 0, 0, TimeSpan.Zero));

    public static IReadOnlyList<JobRecord> Jobs { get; } =
    [
        new JobRecord("birch-6-cut", Monday - TimeSpan.FromDays(30), "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2)),
        new JobRecord("acrylic-3-cut", Monday - TimeSpan.FromDays(30), "acrylic 3 mm", new PowerPercent(48), 15, new Kilopascals(90), new Milliamps(14)),
        new JobRecord("slate-raster", Monday - TimeSpan.FromDays(30), "slate", new PowerPercent(40), 300, new Kilopascals(60), null, CutMode.Raster),
    ];

    /// <summary>Eight channels, each once a second, on working days from eight to five; as many days as are asked for.</summary>
    public static IEnumerable<SimulatedMoment> EightChannelsEachSecond(string machine, int seed, int days) =>
        new SimulatedMachine(new SimulatedMachineOptions
        {
            Machine = machine,
            Seed = seed,
            Step = TimeSpan.FromMilliseconds(500),
            FastInterval = TimeSpan.FromSeconds(1),
            SlowInterval = TimeSpan.FromSeconds(1),
        }).Run(WorkPlan.Weekdays(seed, Monday, days, Jobs));

    /// <summary>Writes the recording until it holds so many samples.</summary>
    public static void Write(string path, string machine, IReadOnlyList<JobRecord> jobs, IEnumerable<SimulatedMoment> moments, int samples)
    {
        using var file = File.Create(path);
        SimulatedRecording.Write(file, machine, jobs, UpTo(samples, moments));
    }

    private static IEnumerable<SimulatedMoment> UpTo(int samples, IEnumerable<SimulatedMoment> moments)
    {
        var met = 0;
        foreach (var moment in moments)
        {
            yield return moment;
            met += moment.Values.Count;
            if (met >= samples)
                yield break;
        }
    }
}
