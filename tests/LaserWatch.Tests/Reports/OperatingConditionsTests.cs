using CsCheck;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Quantities;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

public class OperatingConditionsTests
{
    private static readonly Instant Begin = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    private static readonly MonitorOptions Options = MonitorOptions.Default with
    {
        TubeCurrent = MonitorOptions.Default.TubeCurrent with { RatedCurrentMilliamps = 22 },
        Coolant = MonitorOptions.Default.Coolant with { LeastFlowLitresPerMinute = 3 },
    };

    [Fact]
    public void Time_outside_is_from_the_sample_that_told_of_it_to_the_one_that_told_otherwise()
    {
        var hot = Limit("coolant-hot", [.. Each(0, 100, Channel.CoolantIn, 25), .. Each(100, 140, Channel.CoolantIn, 31), .. Each(140, 200, Channel.CoolantIn, 26), At(200, Channel.CoolantIn, 26)], 200);

        Assert.Equal(new LimitTime(200, 40, new Spell(After(100), 40), 1, 31, 30, After(100)), hot.Always);
        Assert.Equal(default, hot.InBeam);
    }

    [Fact]
    public void After_its_longest_hold_a_sample_tells_nothing_any_more()
    {
        // At one sample a second the patience is the least there is: 30 s.
        var hot = Limit("coolant-hot", [.. Each(0, 21, Channel.CoolantIn, 31), At(1000, Channel.CoolantIn, 25)], 1010);

        Assert.Equal(new LimitTime(60, 50, new Spell(After(0), 50), 1, 31, 30, After(0)), hot.Always);
    }

    [Fact]
    public void The_longest_hold_follows_the_channels_own_interval()
    {
        // Once a minute: ten times sixty seconds, but for the first, before an interval was seen.
        var hot = Limit("coolant-hot", [.. Enumerable.Range(0, 17).Select(i => At(60 * i, Channel.CoolantIn, 31))], 10_000);

        Assert.Equal(30 + 900 + 600, hot.Always.KnownSeconds);
    }

    [Fact]
    public void A_time_of_which_nothing_is_known_ends_a_spell_after_a_minute()
    {
        var apart = Limit("coolant-hot", [.. Each(0, 10, Channel.CoolantIn, 31), .. Each(150, 160, Channel.CoolantIn, 31)], 160);
        var near = Limit("coolant-hot", [.. Each(0, 10, Channel.CoolantIn, 31), .. Each(80, 90, Channel.CoolantIn, 31)], 90);

        Assert.Equal((2, 39.0), (apart.Always.Spells, apart.Always.Longest!.Value.Seconds));
        Assert.Equal((1, 49.0), (near.Always.Spells, near.Always.Longest!.Value.Seconds));
    }

    [Fact]
    public void Current_above_the_rated_counts_with_the_beam_on_alone()
    {
        var high = Limit(
            "tube-current-high",
            [.. Beam(0, 100, on: true), .. Each(0, 90, Channel.TubeCurrent, 21), .. Each(90, 110, Channel.TubeCurrent, 23), .. Beam(100, 110, on: false)], 110);

        Assert.Equal(new LimitTime(100, 10, new Spell(After(90), 10), 1, 23, 22, After(90)), high.InBeam);
    }

    [Fact]
    public void Air_is_held_against_the_record_of_the_job_once_it_has_had_time_to_rise()
    {
        var summary = Run(
            [.. Beam(0, 60, on: true), .. Each(0, 30, Channel.AirPressure, 185), .. Each(30, 60, Channel.AirPressure, 205)], 60,
            [new JobEvent("bay1", After(0), JobEventKind.Start, "birch"), new JobEvent("bay1", After(55), JobEventKind.End, "birch")]);
        var air = summary.Limits.Single(limit => limit.Key == "air-pressure-low");

        // 8 s to rise; 22 s below 189 kPa; 25 s good; the last 5 s are in no run.
        Assert.Equal(new LimitTime(47, 22, new Spell(After(8), 22), 1, 185, 189, After(8)), air.InBeam);
        Assert.Equal((55, 55, 1.0), (summary.RunSeconds, summary.BeamInRunSeconds, summary.Duty));
    }

    [Fact]
    public void Condensation_is_judged_where_coolant_and_room_are_known_together()
    {
        // 25 °C at 60 %RH: dew point 16.69 °C, limit 18.69 °C.
        var risk = Limit(
            "condensation-risk",
            [.. Each(0, 300, Channel.CoolantIn, 18), At(100, Channel.AmbientTemperature, 25), At(110, Channel.AmbientHumidity, 60), At(125, Channel.AmbientHumidity, 30)], 300);

        // The room's temperature is believed for 30 s, and for the last 5 s the air is dry.
        Assert.Equal((20, 15), (risk.Always.KnownSeconds, risk.Always.OutsideSeconds));
        Assert.Equal(18.69, risk.Always.WorstLimit!.Value, 0.01);
    }

    [Fact]
    public void An_implausible_value_is_neither_in_nor_out()
    {
        var summary = Run([.. Each(0, 10, Channel.CoolantIn, 31), .. Each(10, 20, Channel.CoolantIn, 85), .. Each(20, 31, Channel.CoolantIn, 25)], 30);
        var hot = summary.Limits.Single(limit => limit.Key == "coolant-hot");

        Assert.Equal((20, 10), (hot.Always.KnownSeconds, hot.Always.OutsideSeconds));
        Assert.Equal(10, summary.Heard.Single().Implausible);
    }

    [Fact]
    public void A_limit_of_a_channel_of_ones_own_is_judged_on_both_sides()
    {
        var table = new ChannelTable();
        Assert.True(table.TryGet("exhaust_vacuum", "Pa", out var vacuum));
        var options = Options with { Limits = new Dictionary<string, ChannelLimitOptions> { ["exhaust_vacuum"] = new() { Low = 150, High = 400 } } };
        var summary = Run([.. Each(0, 10, vacuum, 140), .. Each(10, 40, vacuum, 200), .. Each(40, 45, vacuum, 500), At(45, vacuum, 200)], 45, options: options);

        Assert.Equal(
            [("exhaust_vacuum-low", 45.0, 10.0), ("exhaust_vacuum-high", 45.0, 5.0)],
            summary.Limits.Where(limit => limit.Key.StartsWith("exhaust", StringComparison.Ordinal)).Select(limit => (limit.Key, limit.Always.KnownSeconds, limit.Always.OutsideSeconds)));
    }

    [Fact]
    public void All_limits_are_kept_when_each_that_was_judged_is()
    {
        var summary = Run(
            [.. Beam(0, 100, on: true), .. Each(0, 50, Channel.TubeCurrent, 23), .. Each(50, 100, Channel.TubeCurrent, 20), .. Each(0, 40, Channel.CoolantIn, 25), .. Each(40, 60, Channel.CoolantIn, 31), .. Each(60, 100, Channel.CoolantIn, 25)], 100);

        Assert.Equal((100, 60), (summary.AllLimits.KnownSeconds, summary.AllLimits.OutsideSeconds));
        Assert.Equal(2, summary.AllLimits.Worst);
    }

    [Fact]
    public void Beam_is_counted_by_power_and_by_day_of_UTC()
    {
        var midnight = 16 * 3600.0;
        var summary = Run([.. Beam(midnight - 600, midnight + 1200, on: true), .. Each(midnight - 600, midnight, Channel.Power, 65), .. Each(midnight, midnight + 1201, Channel.Power, 100), .. Beam(midnight + 1200, midnight + 1201, on: false)], midnight + 1201);

        Assert.Equal([(new DateOnly(2026, 3, 9), 600.0), (new DateOnly(2026, 3, 10), 1200.0)], summary.Days.Select(day => (day.Day, day.BeamSeconds)));
        Assert.Equal([0, 0, 0, 0, 0, 0, 600, 0, 0, 1200], summary.PowerBands);
        Assert.Equal((2, 1800.0), (summary.DaysOfUse, summary.BeamSeconds));
    }

    [Fact]
    public void Silences_are_found_and_the_hour_meter_tells_what_ran_in_them()
    {
        var summary = Run([.. Each(0, 60, Channel.CoolantIn, 20), At(60, Channel.Runtime, 100.0), .. Each(7260, 7270, Channel.CoolantIn, 20), At(7271, Channel.Runtime, 101.5)], 7300);

        Assert.Equal([new Silence(After(60), After(7260), 1.5)], summary.Silences);
        Assert.Equal((100.0, 101.5, 1.5), (summary.MeterFirst, summary.MeterLast, summary.MeterHours));
        Assert.Equal(0.0, summary.Cover);
    }

    [Fact]
    public void A_days_range_is_of_its_samples_with_the_beam_on_and_its_median_of_minutes()
    {
        var summary = Run([.. Beam(0, 180, on: true), .. Each(0, 60, Channel.AirPressure, 200), .. Each(60, 120, Channel.AirPressure, 210), .. Each(120, 180, Channel.AirPressure, 190), .. Beam(180, 240, on: false), .. Each(180, 240, Channel.AirPressure, 0)], 240);

        Assert.Equal([new DayRange(new DateOnly(2026, 3, 9), 190, 200, 210, 3)], summary.Ranges[Channel.AirPressure]);
    }

    [Fact]
    public void Nothing_heard_is_nothing_known()
    {
        var summary = Run([], 3600);

        Assert.Null(summary.First);
        Assert.Equal(0, summary.HeardSeconds);
        Assert.All(summary.Limits, limit => Assert.NotNull(limit.Lack));
        Assert.Null(summary.AllLimits.ShareOutside);
    }

    [Fact]
    public void What_lies_outside_the_time_asked_for_is_left_out_but_for_the_run_under_way()
    {
        var conditions = new OperatingConditions(Options, Jobs(), Channel.Canonical, After(100), After(200));
        conditions.Take(new JobEvent("bay1", After(0), JobEventKind.Start, "birch"));
        conditions.Take([.. Beam(0, 300, on: true)]);
        var summary = conditions.Finish();

        Assert.Equal((100, 100, After(100), After(199)), (summary.BeamSeconds, summary.RunSeconds, summary.First, summary.Last));
    }

    [Fact]
    public void A_sample_out_of_order_is_refused()
    {
        var conditions = new OperatingConditions(Options, Jobs(), Channel.Canonical, Begin, Instant.MaxValue);
        conditions.Take([At(10, Channel.CoolantIn, 20)]);

        Assert.Throws<ArgumentException>(() => conditions.Take([At(9, Channel.CoolantIn, 20)]));
    }

    /// <summary>Random channels, values and pauses: the cuts into blocks mean nothing, and no time is counted twice.</summary>
    [Fact]
    public void Where_the_blocks_are_cut_does_not_matter()
    {
        var moment = Gen.Select(Gen.Int[0, 5], Gen.Double[0, 40], Gen.Frequency((20, Gen.Int[0, 3]), (1, Gen.Int[20, 90_000])));
        Gen.Select(moment.Array[1, 200], Gen.Int[1, 50]).Sample((moments, size) =>
        {
            Channel[] channels = [Channel.Lasing, Channel.TubeCurrent, Channel.CoolantIn, Channel.AmbientTemperature, Channel.AmbientHumidity, Channel.Power];
            var at = 0;
            var samples = moments.Select(m => At(at += m.Item3, channels[m.Item1], m.Item1 == 0 ? Math.Round(m.Item2 / 40) : m.Item2)).ToArray();
            var whole = Run(samples, at + 100);
            var conditions = new OperatingConditions(Options, Jobs(), Channel.Canonical, Begin, After(at + 100));
            foreach (var block in samples.Chunk(size))
                conditions.Take(block);
            var cut = conditions.Finish();

            Assert.Equal(whole.Limits, cut.Limits);
            Assert.Equal(whole.AllLimits, cut.AllLimits);
            Assert.Equal(whole.Days, cut.Days);
            Assert.Equal(whole.PowerBands, cut.PowerBands);
            Assert.Equal(whole.HeardSeconds, cut.HeardSeconds);
            Assert.True(whole.HeardSeconds <= at + 100 + 1e-6);
            Assert.All(whole.Limits, limit => Assert.True(limit.Widest.KnownSeconds <= whole.HeardSeconds + 1e-6 && limit.Widest.OutsideSeconds <= limit.Widest.KnownSeconds));
            Assert.Equal(whole.BeamSeconds, whole.PowerBands.Sum() + whole.BeamOfUnknownPowerSeconds, 1e-6);
        });
    }

    private static LimitUse Limit(string key, IEnumerable<Sample> samples, double end) => Run(samples, end).Limits.Single(limit => limit.Key == key);

    private static OperatingSummary Run(IEnumerable<Sample> samples, double end, IReadOnlyList<JobEvent>? runs = null, MonitorOptions? options = null)
    {
        var conditions = new OperatingConditions(options ?? Options, Jobs(), Channel.Canonical, Begin, After(end));
        var waiting = new Queue<JobEvent>(runs ?? []);
        foreach (var sample in samples.OrderBy(sample => sample.At).ThenBy(sample => sample.Channel.Index))
        {
            while (waiting.TryPeek(out var run) && run.At <= sample.At)
                conditions.Take(waiting.Dequeue());
            conditions.Take([sample]);
        }

        return conditions.Finish();
    }

    private static JobBook Jobs()
    {
        var jobs = new JobBook();
        jobs.Add(new JobRecord("birch", Begin - TimeSpan.FromDays(1), null, new PowerPercent(65), 11, new Kilopascals(210), new Milliamps(18)));
        return jobs;
    }

    private static Instant After(double seconds) => Begin + TimeSpan.FromSeconds(seconds);

    private static Sample At(double seconds, Channel channel, double value) => new(channel, After(seconds), value);

    private static IEnumerable<Sample> Each(double from, double to, Channel channel, double value)
    {
        for (var at = from; at < to; at++)
            yield return At(at, channel, value);
    }

    private static IEnumerable<Sample> Beam(double from, double to, bool on) => Each(from, to, Channel.Lasing, on ? 1 : 0);
}
