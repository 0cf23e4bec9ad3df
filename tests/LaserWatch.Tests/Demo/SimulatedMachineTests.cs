using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

public class SimulatedMachineTests
{
    private static readonly Instant Monday = Instant.From(new DateTimeOffset(2026, 3, 9, 0, 0, 0, TimeSpan.Zero));
    private static readonly Instant On = Monday + TimeSpan.FromHours(8);

    private static readonly JobRecord Birch = new(
        "birch-6-cut", Monday, "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2));

    private static readonly IReadOnlyList<Channel> Everything = Channel.Canonical;

    /// <summary>A run of ten minutes that begins two minutes after switching on; the fault lasts from its fifth minute on.</summary>
    private static List<(Instant At, Channel Channel, double Value)> Run(
        FaultKind? kind = null, double severity = 0, Channel? channel = null, SimulatedMachineOptions? options = null)
    {
        var faults = kind is { } k ? [new SimulatedFault(k, On + TimeSpan.FromMinutes(7), Instant.MaxValue, severity, default, channel)] : Array.Empty<SimulatedFault>();
        var machine = new SimulatedMachine((options ?? new SimulatedMachineOptions { Channels = Everything }) with { Faults = faults });
        var shift = new PlannedShift(On, On + TimeSpan.FromMinutes(14), [new PlannedRun(Birch, On + TimeSpan.FromMinutes(2), TimeSpan.FromMinutes(10))]);
        return [.. machine.Run([shift]).SelectMany(moment => moment.Values.Select(v => (moment.At, v.Channel, v.Value)).ToArray())];
    }

    /// <summary>The mean of a channel between two times after switching on, in minutes.</summary>
    private static double Mean(List<(Instant At, Channel Channel, double Value)> samples, Channel channel, double from, double to) =>
        samples.Where(s => s.Channel == channel && s.At >= On + TimeSpan.FromMinutes(from) && s.At < On + TimeSpan.FromMinutes(to)).Average(s => s.Value);

    private static double MeanWhileCutting(List<(Instant At, Channel Channel, double Value)> samples, double from, double to)
    {
        var within = samples.Where(s => s.At >= On + TimeSpan.FromMinutes(from) && s.At < On + TimeSpan.FromMinutes(to)).ToLookup(s => s.Channel);
        var power = within[Channel.Power].ToDictionary(s => s.At, s => s.Value);
        var beam = within[Channel.Lasing].ToDictionary(s => s.At, s => s.Value);
        var values = within[Channel.TubeCurrent].Where(s => power[s.At] == 66 && beam[s.At] == 1).Select(s => s.Value).Order().ToArray();
        return values[values.Length / 2];
    }

    [Fact]
    public void The_same_seed_gives_the_same_samples_and_another_gives_others()
    {
        Assert.Equal(Run(), Run());
        Assert.NotEqual(Run(), Run(options: new SimulatedMachineOptions { Channels = Everything, Seed = 2 }));
    }

    [Fact]
    public void Every_channel_tells_at_its_interval_on_the_same_instants()
    {
        var samples = Run();

        Assert.Equal(14 * 60 * 2, samples.Count(s => s.Channel == Channel.TubeCurrent));
        Assert.Equal(14 * 60 / 5, samples.Count(s => s.Channel == Channel.CoolantIn));
        Assert.All(samples, s => Assert.Equal(0, s.At.UnixNanoseconds % 500_000_000));
    }

    [Fact]
    public void A_sound_run_is_at_the_recorded_values()
    {
        var samples = Run();

        Assert.InRange(Mean(samples, Channel.AirPressure, 3, 11), 205, 215);
        Assert.InRange(MeanWhileCutting(samples, 3, 11), 17.9, 18.5);
        Assert.InRange(Mean(samples, Channel.Lasing, 3, 11), 0.8, 0.97);
        Assert.InRange(Mean(samples, Channel.CoolantIn, 3, 11), 19, 21);
        Assert.InRange(Mean(samples, Channel.CoolantOut, 3, 11) - Mean(samples, Channel.CoolantIn, 3, 11), 0.8, 2);
        Assert.InRange(Mean(samples, Channel.AirPressure, 0, 2), -1, 1);
        Assert.InRange(Mean(samples, Channel.TubeCurrent, 0, 2), -0.1, 0.1);
    }

    [Theory]
    [InlineData(FaultKind.HoseKink, 0.7, "air_pressure", 0.50, 0.68)]
    [InlineData(FaultKind.WrongRegulatorSetting, 0.2, "air_pressure", 0.77, 0.83)]
    [InlineData(FaultKind.NozzleObstruction, 0.5, "air_pressure", 1.03, 1.07)]
    [InlineData(FaultKind.NozzleObstruction, 0.5, "air_flow", 0.45, 0.56)]
    [InlineData(FaultKind.WeakPump, 0.6, "coolant_flow", 0.35, 0.45)]
    [InlineData(FaultKind.CloggedCooler, 1, "coolant_in", 1.03, 1.12)]
    public void A_fault_shows_where_it_should(FaultKind kind, double severity, string channel, double low, double high)
    {
        var told = Channel.Canonical.First(c => c.Name == channel);
        var samples = Run(kind, severity);
        var before = Mean(samples, told, 5, 7);

        Assert.InRange(Mean(samples, told, 9, 11.9) / before, low, high);
    }

    [Fact]
    public void A_supply_loss_takes_its_part_of_the_current_at_once_and_age_takes_more_at_high_commands()
    {
        var loss = Run(FaultKind.SupplyLoss, 0.08);
        Assert.InRange(MeanWhileCutting(loss, 7, 11) / MeanWhileCutting(loss, 3, 7), 0.91, 0.93);

        var age = Run(FaultKind.AgeingTube, 0.5);
        Assert.InRange(MeanWhileCutting(age, 7, 11) / MeanWhileCutting(age, 3, 7), 0.85, 0.95);
    }

    [Fact]
    public void A_tripped_compressor_lets_the_pressure_run_down()
    {
        var samples = Run(FaultKind.CompressorTrip);

        Assert.InRange(Mean(samples, Channel.AirPressure, 7, 7.5), 200, 215);
        Assert.InRange(Mean(samples, Channel.AirPressure, 11.5, 11.9), 0, 120);
    }

    [Fact]
    public void A_sensor_can_be_silent_stuck_or_tell_what_cannot_be()
    {
        Assert.DoesNotContain(Run(FaultKind.SensorSilent, 0, Channel.CoolantIn), s => s.Channel == Channel.CoolantIn && s.At >= On + TimeSpan.FromMinutes(7));
        Assert.Single(Run(FaultKind.SensorStuck, 0, Channel.AirPressure).Where(s => s.Channel == Channel.AirPressure && s.At >= On + TimeSpan.FromMinutes(7)).Select(s => s.Value).Distinct());
        Assert.All(
            Run(FaultKind.SensorImplausible, -127, Channel.CoolantOut).Where(s => s.Channel == Channel.CoolantOut && s.At >= On + TimeSpan.FromMinutes(7)),
            s => Assert.Equal(-127, s.Value));
    }

    [Fact]
    public void A_raster_job_flickers_at_a_part_of_the_current()
    {
        var raster = Birch with { Job = "photo", Mode = CutMode.Raster };
        var machine = new SimulatedMachine(new SimulatedMachineOptions());
        var shift = new PlannedShift(On, On + TimeSpan.FromMinutes(6), [new PlannedRun(raster, On, TimeSpan.FromMinutes(5))]);
        var current = machine.Run([shift]).SelectMany(m => m.Values.Where(v => v.Channel == Channel.TubeCurrent).Select(v => v.Value).ToArray()).Skip(10).Take(500).ToArray();

        Assert.InRange(current.Average(), 4, 12);
        Assert.True(current.Max() - current.Min() > 6);
    }

    [Fact]
    public void Weekdays_have_runs_within_the_shift_and_none_at_weekends()
    {
        var shifts = WorkPlan.Weekdays(1, Monday, 14, [Birch]).ToArray();

        Assert.Equal(10, shifts.Length);
        Assert.All(shifts, shift =>
        {
            Assert.InRange(shift.Runs.Count, 5, 60);
            var times = shift.Runs.SelectMany(run => new[] { run.Start, run.End }).Prepend(shift.On).Append(shift.Off).ToArray();
            Assert.Equal(times.Order(), times);
        });
    }
}
