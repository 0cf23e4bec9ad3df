using CsCheck;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

public class AlarmPerformanceTests
{
    private const int Step = 20; // seconds
    private const int StepsPerDay = 86400 / Step;

    // A UTC midnight, so that days and hours of the steps are those of the calendar.
    private static readonly Instant Midnight = Instant.From(new DateTimeOffset(2026, 3, 9, 0, 0, 0, TimeSpan.Zero));

    [Fact]
    public void A_short_history_counted_by_hand()
    {
        AlarmChange[] changes =
        [
            // Stands from before the time told of: stale on both days.
            Change("bay1", Conditions.TubeLife, AlarmState.Unacknowledged, -30 * 3600, AlarmPriority.Low),
            Change("bay1", Conditions.TubeLife, AlarmState.Acknowledged, -29 * 3600, AlarmPriority.Low) with { By = "ana" },

            // Chatters: three times within a minute, twice of them over within 30 s unseen; then acknowledged after 100 s of the first.
            Change("bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, 3600, AlarmPriority.High),
            Change("bay1", Conditions.AirPressureLow, AlarmState.ReturnedUnacknowledged, 3620, AlarmPriority.High),
            Change("bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, 3630, AlarmPriority.High),
            Change("bay1", Conditions.AirPressureLow, AlarmState.ReturnedUnacknowledged, 3640, AlarmPriority.High),
            Change("bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, 3659, AlarmPriority.High),
            Change("bay1", Conditions.AirPressureLow, AlarmState.Acknowledged, 3700, AlarmPriority.High) with { By = "ana" },
            Change("bay1", Conditions.AirPressureLow, AlarmState.Normal, 4000, AlarmPriority.High),

            // Nobody has seen this one; one is shelved and comes back, one is explained by another.
            Change("bay2", Conditions.CoolantHot, AlarmState.Unacknowledged, 86400 + 60, AlarmPriority.Urgent),
            Change("bay2", Conditions.CoolantDrift, AlarmState.SuppressedByDesign, 86400 + 90),
            Change("bay2", Conditions.SensorStuck, AlarmState.Unacknowledged, 7200),
            Change("bay2", Conditions.SensorStuck, AlarmState.Shelved, 7300) with { By = "ana" },
            Change("bay2", Conditions.SensorStuck, AlarmState.Normal, 9000),
        ];

        var f = AlarmPerformance.Of(changes, Hours(8, 9), At(0), At(2 * 86400), new FloodOptions());

        Assert.Equal((2, 5, 48), (f.CoveredDays, f.CoveredHours, f.Hours)); // hours 1, 2, 8, 9 and 24, of alarms or samples
        Assert.Equal((5, 3), (f.Annunciations, f.DifferentAlarms));
        Assert.Equal((2.5, 1.0, 5 / 30.0), (f.PerDay, f.PerHour, f.PerTenMinutes));
        Assert.Equal((4, 3, 3), (f.GreatestDay, f.GreatestHour, f.GreatestTenMinutes));
        Assert.Equal((0.0, 0.0, 0, 0.0), (f.PercentHoursOver30, f.PercentTenMinutesOver10, f.Floods, f.PercentInFlood));
        Assert.Equal((1, 2), (f.Chattering, f.Fleeting));
        Assert.Equal((1, 1), (f.StaleAtEnd, f.StaleGreatest));
        Assert.Equal([0, 1, 3, 1], f.ByPriority);
        Assert.Equal(
            [
                new AlarmFrequency("bay1", Conditions.AirPressureLow, 3, 0.6, true), new AlarmFrequency("bay2", Conditions.CoolantHot, 1, 0.2, false),
                new AlarmFrequency("bay2", Conditions.SensorStuck, 1, 0.2, false),
            ],
            f.MostFrequent);
        Assert.Equal([TimeSpan.FromSeconds(100)], f.AcknowledgedAfter);
        Assert.Equal((1, new Silenced(1, 0), new Silenced(0, 0), new Silenced(1, 1)), (f.Waiting, f.Shelved, f.OutOfService, f.SuppressedByDesign));
    }

    [Fact]
    public void Any_history_is_counted_as_by_looking_at_every_twenty_seconds_of_it()
    {
        var state = Gen.Int[0, 9].Select(i => i switch
        {
            < 4 => AlarmState.Unacknowledged,
            < 6 => AlarmState.ReturnedUnacknowledged,
            6 => AlarmState.Acknowledged,
            7 => AlarmState.Normal,
            8 => AlarmState.Shelved,
            _ => AlarmState.SuppressedByDesign,
        });
        var change = Gen.Select(Gen.Int[0, 2], state, Gen.OneOf(Gen.Int[1, 3], Gen.Int[1, 40], Gen.Int[1, 4000]), Gen.Enum<AlarmPriority>(), Gen.Bool);
        Gen.Select(change.Array[0, 60], Gen.Int[-StepsPerDay, StepsPerDay], Gen.Int[1, 4 * StepsPerDay]).Sample((steps, from, length) =>
        {
            var (at, changes) = (0, new List<AlarmChange>());
            foreach (var (machine, next, later, priority, by) in steps)
            {
                at += later;
                changes.Add(Change($"bay{machine}", Conditions.CoolantHot, next, at * Step, priority) with { By = by ? "ana" : null });
            }

            var options = new FloodOptions { StartsAt = 5, EndsBelow = 3 };
            var f = AlarmPerformance.Of(changes, new HashSet<long>(), At(from * Step), At((from + length) * Step), options);
            var model = new EveryStep(changes, from, from + length, options);

            Assert.Equal(model.Called.Count, f.Annunciations);
            Assert.Equal(model.GreatestDay, f.GreatestDay);
            Assert.Equal(model.GreatestHour, f.GreatestHour);
            Assert.Equal(model.GreatestTenMinutes, f.GreatestTenMinutes);
            Assert.Equal(model.TenMinutesOver10, f.TenMinutesOver10);
            Assert.Equal((model.Floods, model.StepsInFlood * Step), (f.Floods, (int)f.InFlood.TotalSeconds));
            Assert.Equal((model.StaleAtEnd, model.StaleGreatest), (f.StaleAtEnd, f.StaleGreatest));
            Assert.Equal(model.Chattering, f.Chattering);
            Assert.Equal(model.Fleeting, f.Fleeting);
            Assert.Equal(model.AcknowledgedAfter, f.AcknowledgedAfter.Select(t => (int)t.TotalSeconds));
            Assert.Equal(model.Called.Count, f.ByPriority.Sum());
            Assert.Equal(model.Called.Count, f.MostFrequent.Sum(a => a.Annunciations));
        }, iter: 150);
    }

    [Theory]
    [InlineData(29, 0, PerformanceVerdict.TooLittleData)]
    [InlineData(30, 0, PerformanceVerdict.Within)]
    [InlineData(30, 144, PerformanceVerdict.Within)]
    [InlineData(30, 145, PerformanceVerdict.Above)]
    public void A_rate_is_judged_on_thirty_days_or_more(int days, int aDay, PerformanceVerdict verdict)
    {
        var changes = Enumerable.Range(0, days).SelectMany(day => Enumerable.Range(0, aDay)
            .Select(i => Change("bay1", $"c{i % 250}", AlarmState.Unacknowledged, (day * 86400) + (i * 590))));
        var hours = Enumerable.Range(0, days * 24).Select(h => (long)h).ToArray();

        var judged = PerformanceStandard.Judge(AlarmPerformance.Of(changes, Hours(hours), At(0), At(days * 86400), new FloodOptions()));

        Assert.Equal(verdict, judged.Single(m => m.Key == "per_day").Verdict);
    }

    [Fact]
    public void Few_annunciations_or_few_alarms_are_not_judged_by_percentages()
    {
        var hours = Enumerable.Range(0, 40 * 24).Select(h => (long)h).ToArray();
        var few = Enumerable.Range(0, 99).Select(i => Change("bay1", "c", AlarmState.Unacknowledged, i * 20000, AlarmPriority.Urgent)).ToList();

        var judged = PerformanceStandard.Judge(AlarmPerformance.Of(few, Hours(hours), At(0), At(40 * 86400), new FloodOptions())).ToDictionary(m => m.Key);
        Assert.Equal(("99 annunciations: too few for percentages", PerformanceVerdict.TooLittleData), (judged["percent_urgent"].Why, judged["percent_urgent"].Verdict));
        Assert.Equal(PerformanceVerdict.Within, judged["per_day"].Verdict);
        Assert.StartsWith("1 different alarms", judged["percent_ten_most_frequent"].Why, StringComparison.Ordinal);

        few.Add(Change("bay1", "c", AlarmState.Unacknowledged, 39 * 86400, AlarmPriority.Urgent));
        judged = PerformanceStandard.Judge(AlarmPerformance.Of(few, Hours(hours), At(0), At(40 * 86400), new FloodOptions())).ToDictionary(m => m.Key);
        Assert.Equal(PerformanceVerdict.Above, judged["percent_urgent"].Verdict);
        Assert.Equal(PerformanceVerdict.TooLittleData, judged["percent_ten_most_frequent"].Verdict);
    }

    [Fact]
    public void Every_recommended_value_says_who_recommends_it_and_whether_that_was_read()
    {
        foreach (var measure in PerformanceStandard.Judge(AlarmPerformance.Of([], Hours(0), At(0), At(3600), new FloodOptions())))
        {
            Assert.Equal(measure.Recommended.Length == 0, measure.Source.Length == 0);
            Assert.Contains(measure.Known, measure.Recommended.Length == 0 ? new[] { "" } : ["read", "from memory"]);
        }
    }

    private static HashSet<long> Hours(params long[] after) => [.. after.Select(h => AlarmPerformance.HourOf(Midnight) + h)];

    private static AlarmChange Change(string machine, string condition, AlarmState state, int second, AlarmPriority priority = AlarmPriority.Medium) =>
        new(At(second), machine, condition, state, priority, null, null, "", null, "", [], []);

    private static Instant At(int second) => Midnight + TimeSpan.FromSeconds(second);

    /// <summary>The same by going through every step of the time, alarm by alarm; slow and plain.</summary>
    private sealed class EveryStep
    {
        private readonly List<AlarmChange> _changes;
        private readonly int _from;
        private readonly int _to;

        public EveryStep(List<AlarmChange> changes, int from, int to, FloodOptions options)
        {
            (_changes, _from, _to) = ([.. changes.Where(c => StepOf(c) < to)], from, to);
            Called = [.. _changes.Where(c => c.State == AlarmState.Unacknowledged && StepOf(c) >= from).Select(StepOf)];
            for (var day = Down(from, StepsPerDay); day <= Down(to, StepsPerDay); day++)
                GreatestDay = Math.Max(GreatestDay, Between(day * StepsPerDay, (day + 1) * StepsPerDay));
            for (var hour = Down(from, 180); hour <= Down(to, 180); hour++)
                GreatestHour = Math.Max(GreatestHour, Between(hour * 180, (hour + 1) * 180));
            for (var ten = Down(from, 30); ten <= Down(to, 30); ten++)
                TenMinutesOver10 += Between(ten * 30, (ten + 1) * 30) > 10 ? 1 : 0;
            for (var step = from; step < to; step++)
                GreatestTenMinutes = Math.Max(GreatestTenMinutes, Between(step, step + 30));
            LookForFloods(options);
            LookAtEachAlarm();
        }

        public List<int> Called { get; }

        public int GreatestDay { get; }

        public int GreatestHour { get; }

        public int GreatestTenMinutes { get; }

        public int TenMinutesOver10 { get; }

        public int Floods { get; private set; }

        public int StepsInFlood { get; private set; }

        public int StaleAtEnd { get; private set; }

        public int StaleGreatest { get; private set; }

        public int Chattering { get; private set; }

        public int Fleeting { get; private set; }

        public List<int> AcknowledgedAfter { get; } = [];

        private static int StepOf(AlarmChange change) => (int)Math.Round(change.Time.SecondsSince(Midnight)) / Step;

        private static int Down(int value, int by) => (int)Math.Floor((double)value / by);

        private int Between(int from, int to) => Called.Count(s => s >= from && s < to);

        private void LookForFloods(FloodOptions options)
        {
            var all = _changes.Where(c => c.State == AlarmState.Unacknowledged).Select(StepOf).ToList();
            var (flood, counted) = (false, false);
            for (var step = Math.Min(0, _from); step < _to; step++)
            {
                // What is ten minutes old leaves before what comes now is counted.
                var left = all.Count(s => s > step - 30 && s < step);
                if (flood && left < options.EndsBelow)
                    (flood, counted) = (false, false);
                var now = all.Count(s => s == step);
                flood |= left + now >= options.StartsAt && now > 0;
                if (!flood || step < _from)
                    continue;
                StepsInFlood++;
                Floods += counted ? 0 : 1;
                counted = true;
            }
        }

        private void LookAtEachAlarm()
        {
            var staleByDay = new Dictionary<int, int>();
            foreach (var alarm in _changes.GroupBy(c => c.Machine))
            {
                var own = alarm.ToList();
                var called = own.Where(c => c.State == AlarmState.Unacknowledged && StepOf(c) >= _from).Select(StepOf).ToList();
                Chattering += called.Any(s => called.Count(o => o >= s && o < s + 3) >= 3) ? 1 : 0;
                for (var i = 0; i < own.Count; i++)
                    LookAtChange(own, i);

                var staleDays = new HashSet<int>();
                int? since = null;
                for (var step = 0; step <= _to; step++)
                {
                    var state = own.LastOrDefault(c => StepOf(c) <= step)?.State ?? AlarmState.Normal;
                    since = state is AlarmState.Unacknowledged or AlarmState.Acknowledged ? since ?? step : null;
                    if (step >= _from && step < _to && step - since >= StepsPerDay)
                        staleDays.Add(Down(step, StepsPerDay));
                    if (step == _to && step - since > StepsPerDay)
                        StaleAtEnd++;
                }

                foreach (var day in staleDays)
                    staleByDay[day] = staleByDay.GetValueOrDefault(day) + 1;
            }

            StaleGreatest = staleByDay.Values.DefaultIfEmpty().Max();
            AcknowledgedAfter.Sort();
        }

        private void LookAtChange(List<AlarmChange> own, int i)
        {
            var change = own[i];
            var before = i == 0 ? AlarmState.Normal : own[i - 1].State;
            if (change.State == AlarmState.ReturnedUnacknowledged && before == AlarmState.Unacknowledged)
            {
                var raised = i - 1;
                while (raised > 0 && own[raised - 1].State is AlarmState.Unacknowledged or AlarmState.Acknowledged)
                    raised--;
                if (StepOf(own[raised]) >= _from && (StepOf(change) - StepOf(own[raised])) * Step <= 30)
                    Fleeting++;
            }

            var seen = change.State == AlarmState.Acknowledged || (change.State == AlarmState.Normal && change.By is not null);
            if (!seen || StepOf(change) < _from)
                return;
            var first = i;
            while (first > 0 && own[first - 1].State is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged)
                first--;
            while (first < i && own[first].State != AlarmState.Unacknowledged)
                first++;
            if (first < i)
                AcknowledgedAfter.Add((StepOf(change) - StepOf(own[first])) * Step);
        }
    }
}
