using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Life;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Trends;

namespace LaserWatch.Reports;

/// <summary>Reports with made-up content, for what is printed of it.</summary>
internal static class ConstructedReport
{
    public static readonly Instant Begin = Instant.From(new DateTimeOffset(2024, 3, 4, 0, 0, 0, TimeSpan.Zero));

    /// <summary>Fifteen months of a tube that sinks slowly, with everything in it that a report can tell.</summary>
    public static EvidenceReport Full(int months = 15)
    {
        var days = (int)(months * 30.4375);
        var end = Begin + TimeSpan.FromDays(days);
        return new EvidenceReport
        {
            Machine = "bay1",
            Version = "0.1.0",
            MadeAt = end + TimeSpan.FromHours(9),
            From = Begin,
            To = end,
            Identity = new Identity
            {
                Shop = "Example shop, hall 2",
                MachineModel = "Gantry cutter 900 × 600 mm",
                TubeMaker = "Example tubes",
                TubeModel = "Glass tube 1250 mm",
                TubeSerial = "T-000001",
                Supply = "Example supply, 60 W class",
                Purchased = new DateOnly(2024, 2, 20),
                Claim = "C-2025-017",
                Terms = "12 months or 3000 h; void above rated current, above 30 °C, or without coolant flow. <Claims> need serial & \"installation\" date.",
            },
            Rating = new TubeRating(3000, true, 24, true, 22),
            Age = new TubeAge(Begin, "T-000001", 1187.4, 1187.4, days / TubeAge.DaysPerMonth, "beam counted since the tube was put in"),
            Period = new TubePeriod(1, "T-000001", Begin, null, 1187.4),
            Current = Trend(days),
            Conditions = Operation(days),
            Alarms = AlarmHistory.Of(Changes(days), end),
            Services = Services(days),
            Gaps =
            [
                new(Begin + TimeSpan.FromDays(40.3), Begin + TimeSpan.FromDays(40.4), "the queue to the store was full", 4123),
                new(Begin + TimeSpan.FromDays(200), Begin + TimeSpan.FromDays(231), "the agent did not run", 0),
            ],
            Duplicates = 12,
            Conflicts = 3,
            Integrity = new IntegrityFacts(
                400, "72f7f687f995c53b46efcb145dd4e41367c69088400a05a4aa84f37b3ea2d919", "2026-03-02T01:00:00Z",
                "b3ce4384445bdfa0e5d1d5d1910914def496482017c9a248d63e0ec31369ef8d", "2026-03-02T01:00:02Z")
            {
                SealedDays = 398,
                FirstSealed = new DateOnly(2024, 6, 3),
                LastSealed = new DateOnly(2026, 2, 27),
                UnsealedDays = 1,
                Revised = [new RevisedDay(new DateOnly(2025, 5, 6), 1, "12 samples of air_pressure came after the day was sealed")],
                AnnexDays = [new DateOnly(2024, 6, 3), new DateOnly(2026, 2, 27)],
                Differing = [new DateOnly(2025, 8, 4)],
            },
            Sensors =
            [
                new("air_pressure", "topic shop/bay1/air, value at /psi", "psi to kPa"),
                new("coolant_in", "topic shop/bay1/coolant-counts", "divider: fixedOhms 10000, rawAtSupply 4095, sensorAtSupply false; ntc-beta: r25Ohms 10000, betaKelvin 3950"),
            ],
        };
    }

    /// <summary>A machine of which nothing is known.</summary>
    public static EvidenceReport Empty() => new()
    {
        Machine = "bay9",
        Version = "0.1.0",
        MadeAt = Begin,
        From = Begin - TimeSpan.FromDays(1),
        To = Begin,
        Identity = new Identity(),
        Rating = new TubeRating(8000, false, 36, false, null),
        Age = new TubeAge(null, null, 0, 0, null, "beam seen by the watch; nobody said when the tube was put in"),
        Conditions = Summary(null, [], new Dictionary<Channel, IReadOnlyList<DayRange>>(), []),
        Alarms = AlarmHistory.Of([], Begin),
    };

    public static ChannelTrend Trend(int days, double fallPerDay = 0.00027, Func<int, bool>? skipped = null)
    {
        var estimates = new List<DailyEstimate>();
        for (var i = 0; i < days; i++)
        {
            if (i % 7 is 5 or 6 || i is > 200 and < 231 || skipped?.Invoke(i) == true)
                continue;
            var wild = i == 120 ? -0.2 : 0;
            var value = 1 - (fallPerDay * i) + (0.006 * Math.Sin(i * 1.7)) + (0.004 * Math.Cos(i * 0.31)) + wild;
            estimates.Add(new(Begin + TimeSpan.FromDays(i + 0.6), DateOnly.FromDateTime(Begin.ToDateTimeOffset().Date).AddDays(i), value, 0.004, 20));
        }

        var x = estimates.Select(e => ChannelTrend.ToDays(e.At)).ToArray();
        var y = estimates.Select(e => e.Value).ToArray();
        var test = y.Length >= 3 ? MannKendall.Test(y) : null;
        var line = y.Length >= 3 ? TheilSen.Fit(x, y, 0.9, test!.Factor) : null;
        var endOfLife = new TrendThreshold("end of life", 0.85, false, "health ratio at which the tube counts as worn out");
        var last = Begin + TimeSpan.FromDays(days);
        return new ChannelTrend
        {
            Machine = "bay1",
            Channel = Channel.TubeCurrent,
            What = "tube current against its baseline, over all powers",
            Unit = "",
            IsHealthRatio = true,
            Tube = new TubePeriod(1, "T-000001", Begin, null, 1187.4),
            Days = estimates,
            Confidence = 0.9,
            Line = line,
            Refusal = line is null ? "2 estimates are too few" : null,
            Test = test,
            CentreDay = x.Length == 0 ? 0 : x[x.Length / 2],
            LevelReach = 0.002,
            IsSure = line is not null,
            Change = line is null ? null : new ChangeFinding(ChangeKind.Ramp, 0.0004, 0.012, 0.9876, ChannelTrend.ToDays(Begin) + 20, ChannelTrend.ToDays(Begin) + 2, ChannelTrend.ToDays(Begin) + 44, 1, 0.88, 0.004, 0.118, 0.006, 80),
            Thresholds = [new("sag", 0.95, false, "a fall of 5 % counts as sag"), endOfLife],
            Projection = line is null ? new(endOfLife, null, null, null, "there is no line")
                : new(endOfLife, last + TimeSpan.FromDays(58), last + TimeSpan.FromDays(96), last + TimeSpan.FromDays(160), null),
            Services = [.. Services(days).Select(ServiceMark.Of)],
            Gaps = days > 231 ? [new(Begin + TimeSpan.FromDays(200), Begin + TimeSpan.FromDays(231), "the agent did not run")] : [],
            Cautions = ["the coolant was warmer in summer, and the current was corrected for it"],
            Method = ["each day's estimate is the weighted mean of blocks of steady current", "the line is the median of all slopes between pairs of days"],
        };
    }

    public static List<ServiceEvent> Services(int days) =>
    [
        .. new List<ServiceEvent>
        {
            new("bay1", Begin + TimeSpan.FromHours(8), "tube", "replaced", "T-000001", "put in by the seller's fitter", ServiceEvent.NoDetails),
            new("bay1", Begin + TimeSpan.FromHours(8.2), "calibration", "in-force", null, null, new Dictionary<string, string> { ["hash"] = "5d41402abc4b2a76", ["coolant_in"] = "divider 10 kOhm; ntc-beta 10000 Ohm, 3950 K" }),
            new("bay1", Begin + TimeSpan.FromDays(90), "lens", "cleaned", null, "Ω ≥ 5 — очищено, レンズ清掃", ServiceEvent.NoDetails),
            new("bay1", Begin + TimeSpan.FromDays(95), "coolant", "replaced", null, "distilled water", ServiceEvent.NoDetails),
            new("bay1", Begin + TimeSpan.FromDays(96), "mirror", "cleaned", null, null, ServiceEvent.NoDetails),
            new("bay1", Begin + TimeSpan.FromDays(300), "test-cut", "made", null, null, new Dictionary<string, string> { ["power"] = "66", ["speed"] = "11", ["outcome"] = "through" }),
        }.Where(service => service.At < Begin + TimeSpan.FromDays(days)),
    ];

    public static List<AlarmChange> Changes(int days)
    {
        var changes = new List<AlarmChange>();
        void Alarm(double day, string condition, AlarmPriority priority, double value, double limit, string unit, string message, double? acknowledged, double? returned)
        {
            AlarmChange At(double seconds, AlarmState state, string? by) =>
                new(Begin + TimeSpan.FromDays(day) + TimeSpan.FromSeconds(seconds), "bay1", condition, state, priority, value, limit, unit, "birch-6-cut", message, [], [], by);
            if (day > days)
                return;
            changes.Add(At(0, AlarmState.Unacknowledged, null));
            if (acknowledged is { } seen)
                changes.Add(At(seen, AlarmState.Acknowledged, "ana"));
            if (returned is { } over)
                changes.Add(At(over, acknowledged is null ? AlarmState.ReturnedUnacknowledged : AlarmState.Normal, null));
        }

        Alarm(31.4, Conditions.AirPressureLow, AlarmPriority.High, 151, 189, "kPa", "air pressure 151.0 kPa is 28.1 % below the 210 kPa recorded", 42, 640);
        Alarm(88.4, Conditions.CoolantHot, AlarmPriority.High, 30.8, 30, "°C", "coolant at 30.8 °C is above the working limit of 30.0 °C", 310, 2600);
        Alarm(121.5, Conditions.SensorStuck, AlarmPriority.Medium, 21.5, 0, "°C", "coolant_in: frozen, though it should move; the rules that need it are blind", null, 8600);
        Alarm(188.4, Conditions.TubeCurrentSag, AlarmPriority.Medium, 17.3, 17.3, "mA", "tube current is 5.1 % below its baseline", 5400, null);
        Alarm(240.4, Conditions.CondensationRisk, AlarmPriority.Medium, 15.2, 16.1, "°C", "coolant at 15.2 °C is within 2 K of the room's dew point", 65, 4000);
        Alarm(310.4, Conditions.AirPressureLost, AlarmPriority.Urgent, 20, 52, "kPa", "air assist is practically gone", 12, 90);
        return [.. changes.OrderBy(change => change.Time)];
    }

    public static OperatingSummary Operation(int days)
    {
        var use = Enumerable.Range(0, days).Where(i => i % 7 is not (5 or 6) && i is not (> 200 and < 231)).ToList();
        var first = DateOnly.FromDateTime(Begin.ToDateTimeOffset().Date);
        List<DayRange> Range(double middle, double season, double spread) =>
            [.. use.Select(i => new DayRange(first.AddDays(i), middle + (season * Math.Sin(i / 58.0)) - spread + (0.3 * Math.Sin(i * 2.3)), middle + (season * Math.Sin(i / 58.0)) + (0.1 * Math.Sin(i)), middle + (season * Math.Sin(i / 58.0)) + spread + (0.4 * Math.Cos(i * 1.1)), 180))];
        return Summary(
            Begin + TimeSpan.FromHours(7),
            [.. use.Select(i => new DayUse(first.AddDays(i), 32_400, 11_000 + (3000 * Math.Sin(i * 0.9)) + (10 * i)))],
            new Dictionary<Channel, IReadOnlyList<DayRange>> { [Channel.CoolantIn] = Range(22, 4.5, 1.6), [Channel.CoolantFlow] = Range(4.1, 0.1, 0.25), [Channel.AirPressure] = Range(205, 3, 14) },
            [new(Begin + TimeSpan.FromDays(200), Begin + TimeSpan.FromDays(231), 21.4), new(Begin + TimeSpan.FromDays(4.7), Begin + TimeSpan.FromDays(7.3), 0)]);
    }

    private static OperatingSummary Summary(Instant? begin, IReadOnlyList<DayUse> days, IReadOnlyDictionary<Channel, IReadOnlyList<DayRange>> ranges, IReadOnlyList<Silence> silences)
    {
        if (begin is not { } first)
        {
            return new(null, null, 0, [], [new("coolant-hot", "Coolant too hot", "°C", "above 30 °C", "what it needs was never heard together", false, default, default)],
                default, 0, 0, 0, 0, new double[10], 0, [], new Dictionary<Channel, IReadOnlyList<DayRange>>(), [], null, null, null);
        }

        var beam = days.Sum(day => day.BeamSeconds);
        var last = ConstructedReport.Begin + TimeSpan.FromDays(days[^1].Day.DayNumber - days[0].Day.DayNumber + 0.7);
        return new(
            first, last, 96_423_118,
            [new(Channel.TubeCurrent, 12_334_000, 1, 0), new(Channel.Lasing, 12_334_000, 1, 0), new(Channel.CoolantIn, 1_233_400, 10, 41)],
            [
                new("coolant-hot", "Coolant too hot", "°C", "above 30 °C", null, false, new(9_100_000, 5230, new Spell(ConstructedReport.Begin + TimeSpan.FromDays(88.4), 2290), 4, 30.8, 30, first + TimeSpan.FromDays(88)), new(beam * 0.98, 1410, new Spell(ConstructedReport.Begin + TimeSpan.FromDays(88.4), 640), 3, 30.6, 30, first + TimeSpan.FromDays(88))),
                new("coolant-cold", "Coolant too cold", "°C", "below 5 °C", null, false, new(9_100_000, 0, null, 0, 15.1, 5, first), new(beam * 0.98, 0, null, 0, 16.2, 5, first)),
                new("condensation-risk", "Condensation risk", "°C", "coolant less than 2 K above the room’s dew point", null, false, new(8_800_000, 81_000, new Spell(ConstructedReport.Begin + TimeSpan.FromDays(240.1), 21_400), 17, 15.2, 16.1, first), new(beam * 0.95, 3100, new Spell(ConstructedReport.Begin + TimeSpan.FromDays(240.4), 3000), 2, 15.2, 16.1, first)),
                new("coolant-flow-low", "Coolant flow too low", "L/min", "not stated", "no least flow is configured", true, default, default),
                new("tube-current-high", "Tube current too high", "mA", "above the rated 22 mA", null, true, default, new(beam, 96.5, new Spell(first + TimeSpan.FromDays(3.21), 11.2), 31, 22.46, 22, first)),
                new("air-pressure-low", "Air pressure too low", "kPa", "below the job’s recorded pressure by more than its tolerance (10 % where the record gives none)", null, true, default, new(beam * 0.91, 698, new Spell(ConstructedReport.Begin + TimeSpan.FromDays(31.4), 598), 2, 151, 189, first)),
            ],
            new(beam, 5304, new Spell(ConstructedReport.Begin + TimeSpan.FromDays(240.4), 3000), 38, 1, 0, first), days.Sum(day => day.HeardSeconds), beam, beam * 1.6, beam * 0.97,
            [0, 0, 0, 0, beam * 0.02, beam * 0.11, beam * 0.62, beam * 0.2, beam * 0.05, 0], 0, days, ranges, silences, 0.2, 1210.4, 1210.2);
    }
}
