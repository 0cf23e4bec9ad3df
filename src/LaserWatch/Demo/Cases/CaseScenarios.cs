using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo.Cases;

/// <summary>The shipped cases' scenarios, and what they share. A new one needs its folder in config/cases, with case.json and notes.md.</summary>
public static class CaseScenarios
{
    public const string Shop = "bay1";

    public static IReadOnlyList<CaseScenario> All { get; } =
    [
        AirCases.HoseKink(), AirCases.CompressorTrip(), AirCases.WrongRegulatorSetting(), AirCases.NozzleClogging(),
        CoolantCases.FanClogged(), CoolantCases.PumpWeak(), TubeCases.AgeingTube(), TubeCases.FailingSupply(),
        HealthyCases.PlainDay(), HealthyCases.HotAfternoon(),
    ];

    internal static JobRecord Birch(Instant recorded, double current = 18.2) => new(
        "birch-6-cut", recorded, "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(current));

    internal static JobRecord Acrylic(Instant recorded, double current = 14) => new(
        "acrylic-3-cut", recorded, "acrylic 3 mm", new PowerPercent(48), 15, new Kilopascals(90), new Milliamps(current));

    internal static JobRecord Mdf(Instant recorded, double current = 16.1) => new(
        "mdf-4-cut", recorded, "MDF 4 mm", new PowerPercent(57), 12, new Kilopascals(180), new Milliamps(current));

    /// <summary>A machine with every sensor that the shop has, told once a second, coolant and room every ten.</summary>
    internal static SimulatedMachineOptions Machine(int seed, params SimulatedFault[] faults) => new()
    {
        Machine = Shop,
        Seed = seed,
        FastInterval = TimeSpan.FromSeconds(1),
        SlowInterval = TimeSpan.FromSeconds(10),
        Channels =
        [
            Channel.TubeCurrent, Channel.Power, Channel.Lasing, Channel.AirPressure, Channel.AirFlow, Channel.CoolantIn, Channel.CoolantOut,
            Channel.CoolantFlow, Channel.AmbientTemperature, Channel.AmbientHumidity,
        ],
        Faults = faults,
    };

    internal static Instant Time(int year, int month, int day, int hour = 0, int minute = 0, int second = 0) =>
        Instant.From(new DateTimeOffset(year, month, day, hour, minute, second, TimeSpan.Zero));

    /// <summary>Runs one after another, each some minutes long, with some minutes between.</summary>
    internal static PlannedRun[] Runs(Instant first, double gapMinutes, params (JobRecord Job, double Minutes)[] jobs)
    {
        var runs = new PlannedRun[jobs.Length];
        var start = first;
        for (var i = 0; i < jobs.Length; i++)
        {
            runs[i] = Run(jobs[i].Job, start, jobs[i].Minutes);
            start = runs[i].End + TimeSpan.FromMinutes(gapMinutes);
        }

        return runs;
    }

    internal static PlannedRun Run(JobRecord job, Instant start, double minutes) => new(job, start, TimeSpan.FromMinutes(minutes));
}
