using CsCheck;
using LaserWatch.Alarms;
using LaserWatch.Demo;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>What whoever asks a watch often can count on.</summary>
public class MachineWatchCostTests
{
    private const string Machine = "bay1";
    private static readonly Instant Morning = Instant.From(new DateTimeOffset(2026, 3, 2, 8, 0, 0, TimeSpan.Zero));

    private static readonly JobRecord Birch = new(
        "birch-6-cut", Morning - TimeSpan.FromDays(30), "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2));

    private static readonly ChannelValue[] Group = new ChannelValue[8];

    private static readonly FaultKind[] Faults =
        [FaultKind.HoseKink, FaultKind.CompressorTrip, FaultKind.NozzleObstruction, FaultKind.CloggedCooler, FaultKind.SupplyLoss, FaultKind.SensorSilent, FaultKind.SensorImplausible];

    private static readonly string[] Told =
        [Conditions.AirPressureLost, Conditions.AirPressureLow, Conditions.AirPathRestricted, Conditions.CoolantHot, Conditions.CoolantTimeToLimit, Conditions.SensorSilent, Conditions.TubeCurrentStep];

    [Fact]
    public void The_standing_alarms_are_others_only_where_their_version_is_another()
    {
        var gen = Gen.Select(
            Gen.Int[1, 1000], Gen.Select(OneOf(Faults), Gen.Int[60, 3000], Gen.Int[5, 1200]).Array[1, 4],
            Gen.Select(Gen.Int[0, 4200], OneOf(Enum.GetValues<AlarmCommandKind>()), OneOf(Told)).Array[0, 12]);
        var raised = 0;
        gen.Sample((seed, faults, commands) => raised += Play(seed, faults, commands), iter: 40, threads: 1);
        Assert.True(raised > 100, $"{raised} changes are too few to show anything");
    }

    [Fact]
    public void The_samples_of_a_cut_allocate_nothing_once_the_tube_is_known()
    {
        var watch = NewWatch();
        watch.Observe(new JobEvent(Machine, Morning, JobEventKind.Start, Birch.Job));
        Cut(watch, 0, 3000);

        // Now and then a minute closes a stint of the tube's course, and that one is compared with the past.
        List<long> minutes = [];
        for (var second = 3000; second < 3600; second += 60)
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            Cut(watch, second, second + 60);
            minutes.Add(GC.GetAllocatedBytesForCurrentThread() - before);
        }

        Assert.Equal(0, minutes.Order().ElementAt(minutes.Count * 3 / 4));
    }

    private static Gen<T> OneOf<T>(T[] values) => Gen.Int[0, values.Length - 1].Select(i => values[i]);

    private static MachineWatch NewWatch()
    {
        var jobs = new JobBook();
        jobs.Add(Birch);
        var alarms = new AlarmOptions
        {
            Conditions = new Dictionary<string, ConditionOptions>
            {
                [Conditions.AirPressureLow] = new() { ReAlarmMinutes = 2, OnDelaySeconds = 4, OffDelaySeconds = 7 },
                [Conditions.CoolantHot] = new() { ReAlarmMinutes = 5, Deadband = 1 },
                [Conditions.AirPathRestricted] = new() { Latching = true },
            },
        };
        return new MachineWatch(Machine, MonitorOptions.Default with { Alarms = alarms, TubeCurrent = MonitorOptions.Default.TubeCurrent with { LearnBeamHours = 0.5 } }, jobs);
    }

    /// <returns>How many changes there were.</returns>
    private static int Play(int seed, (FaultKind Kind, int From, int Seconds)[] faults, (int At, AlarmCommandKind Kind, string Condition)[] commands)
    {
        var watch = NewWatch();
        var changes = 0;
        var asked = commands.OrderBy(c => c.At).ToList();
        var second = 0;
        (string Alarms, int Version)? standing = null;
        foreach (var moment in new SimulatedMachine(Options(seed, faults)).Run([Shift()]))
        {
            for (; Morning + TimeSpan.FromSeconds(second) <= moment.At; second++)
            {
                while (asked.Count > 0 && asked[0].At <= second)
                {
                    var shelve = asked[0].Kind == AlarmCommandKind.Shelve ? TimeSpan.FromSeconds(90) : (TimeSpan?)null;
                    Note(() => watch.Observe(new AlarmCommand(Machine, Morning + TimeSpan.FromSeconds(second), asked[0].Kind, asked[0].Condition, "ann", shelve)));
                    asked.RemoveAt(0);
                }

                Note(() => watch.Tick(Morning + TimeSpan.FromSeconds(second)));
            }

            foreach (var job in moment.Jobs)
                Note(() => watch.Observe(job));
            Note(() => watch.Observe(moment.At, moment.Values.ToArray()));
        }

        return changes;

        void Note(Func<IReadOnlyList<AlarmChange>> take)
        {
            changes += take().Count;
            (string Alarms, int Version) now = (string.Join(' ', watch.Standing.Select(a => $"{a.Condition} {a.State} {a.Priority}")), watch.StandingVersion);
            Assert.True(standing?.Version != now.Version || standing == now, $"{standing} became {now} without a new version");
            standing = now;
        }
    }

    private static SimulatedMachineOptions Options(int seed, (FaultKind Kind, int From, int Seconds)[] faults) => new()
    {
        Machine = Machine,
        Seed = seed,
        Step = TimeSpan.FromMilliseconds(500),
        FastInterval = TimeSpan.FromSeconds(1),
        Faults =
        [
            .. faults.Select(f => new SimulatedFault(
                f.Kind, Morning + TimeSpan.FromSeconds(f.From), Morning + TimeSpan.FromSeconds(f.From + f.Seconds),
                f.Kind == FaultKind.SensorImplausible ? -127 : 0.7, default, f.Kind >= FaultKind.SensorSilent ? Channel.AirPressure : null)),
        ],
    };

    private static PlannedShift Shift() => new(
        Morning, Morning + TimeSpan.FromSeconds(4200),
        [
            new PlannedRun(Birch, Morning + TimeSpan.FromSeconds(20), TimeSpan.FromMinutes(20)),
            new PlannedRun(Birch, Morning + TimeSpan.FromMinutes(24), TimeSpan.FromMinutes(20), Announced: false),
            new PlannedRun(Birch, Morning + TimeSpan.FromMinutes(48), TimeSpan.FromMinutes(18)),
        ]);

    private static void Cut(MachineWatch watch, int from, int to)
    {
        for (var second = from; second < to; second++)
        {
            var odd = second % 7;
            (Group[0], Group[1], Group[2], Group[3]) = (
                new(Channel.TubeCurrent, 18.1 + (0.05 * odd)), new(Channel.Power, 66), new(Channel.Lasing, 1), new(Channel.AirPressure, 210 + (0.2 * odd)));
            (Group[4], Group[5], Group[6], Group[7]) = (
                new(Channel.CoolantIn, 20 + (0.01 * odd)), new(Channel.CoolantOut, 21.1 - (0.01 * odd)), new(Channel.AmbientTemperature, 21.5 + (0.1 * (odd % 2))),
                new(Channel.AmbientHumidity, 45 + (0.1 * odd)));
            var at = Morning + TimeSpan.FromSeconds(second);
            watch.Observe(at, Group);
            watch.Tick(at);
        }
    }
}
