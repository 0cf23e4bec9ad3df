using CsCheck;
using LaserWatch.Alarms;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Rehearsal;

public class AlarmMatchingTests
{
    private static readonly TimeSpan Tolerance = TimeSpan.FromSeconds(60);

    // Alarms of one condition do not overlap: pause and length by turns. Small numbers, so that ties come often.
    private static readonly Gen<List<RaisedAlarm>> Alarms =
        Gen.Select(Gen.Int[0, 90], Gen.Int[0, 40], Gen.Int[0, 3], Gen.Int[0, 1]).List[0, 14].Select(parts =>
        {
            List<RaisedAlarm> alarms = [];
            var at = new Dictionary<string, int>();
            foreach (var (pause, length, priority, which) in parts)
            {
                var condition = which == 0 ? Conditions.AirPressureLow : Conditions.CoolantHot;
                var raised = at.GetValueOrDefault(condition) + pause;
                alarms.Add(Alarm(raised, raised + length, (AlarmPriority)priority, condition));
                at[condition] = raised + length;
            }

            return alarms;
        });

    private static RaisedAlarm Alarm(double raised, double ended, AlarmPriority priority = AlarmPriority.High, string condition = Conditions.AirPressureLow) =>
        new("bay1", condition, Instant.FromUnixSeconds(raised), Instant.FromUnixSeconds(ended), Instant.FromUnixSeconds(ended), priority);

    [Fact]
    public void A_against_B_mirrors_B_against_A() => Gen.Select(Alarms, Alarms).Sample((a, b) =>
        Assert.Equal(AlarmMatching.Match(a, b, Tolerance), AlarmMatching.Match(b, a, Tolerance).Select(pair => pair.Mirrored)));

    [Fact]
    public void Settings_against_themselves_change_nothing() => Alarms.Sample(a =>
    {
        var pairs = AlarmMatching.Match(a, a, Tolerance);
        Assert.Equal(a.Count, pairs.Count);
        Assert.All(pairs, pair => Assert.Equal(AlarmFate.Same, pair.Fate));
    });

    [Fact]
    public void Every_alarm_stands_in_exactly_one_pair() => Gen.Select(Alarms, Alarms).Sample((a, b) =>
    {
        var pairs = AlarmMatching.Match(a, b, Tolerance);
        Assert.Equal(Sorted(a), Sorted(pairs.Select(p => p.A).OfType<RaisedAlarm>()));
        Assert.Equal(Sorted(b), Sorted(pairs.Select(p => p.B).OfType<RaisedAlarm>()));
    });

    [Fact]
    public void A_pair_is_of_one_condition_and_within_the_tolerance_or_stands_at_one_time() => Gen.Select(Alarms, Alarms).Sample((a, b) =>
        Assert.All(AlarmMatching.Match(a, b, Tolerance).Where(p => p is { A: not null, B: not null }), p =>
        {
            Assert.Equal(p.A!.Condition, p.B!.Condition);
            Assert.True(p.MovedBy!.Value.Duration() <= Tolerance || (p.A.Raised < p.B.Until && p.B.Raised < p.A.Until));
        }));

    [Fact]
    public void No_other_pairing_in_the_order_of_time_is_cheaper() => Gen.Select(Alarms, Alarms).Sample((a, b) =>
    {
        foreach (var condition in new[] { Conditions.AirPressureLow, Conditions.CoolantHot })
        {
            var (inA, inB) = (a.Where(x => x.Condition == condition).ToList(), b.Where(x => x.Condition == condition).ToList());
            var cost = AlarmMatching.Match(inA, inB, Tolerance).Sum(p => p is { A: { } x, B: { } y } ? Cost(x, y) : 0.5);
            Assert.Equal(Cheapest(inA, inB, 0, 0, []), cost, 4);
        }
    }, iter: 300);

    [Fact]
    public void A_slow_fall_noticed_two_days_later_is_the_same_fall()
    {
        var day = 86_400.0;
        var pair = Assert.Single(AlarmMatching.Match([Alarm(10 * day, 30 * day)], [Alarm((12 * day) + 14_400, 30 * day)], Tolerance));

        Assert.Equal(AlarmFate.Changed, pair.Fate);
        Assert.Equal(new TimeSpan(2, 4, 0, 0), pair.MovedBy);
    }

    [Fact]
    public void One_gone_and_one_new_are_believed_before_all_moving_on_to_the_next_ones_place()
    {
        var pairs = AlarmMatching.Match([Alarm(0, 5), Alarm(30, 35), Alarm(60, 65), Alarm(90, 95)], [Alarm(30, 35), Alarm(60, 65), Alarm(90, 95), Alarm(120, 125)], Tolerance);

        Assert.Equal([AlarmFate.Vanishes, AlarmFate.Same, AlarmFate.Same, AlarmFate.Same, AlarmFate.Appears], pairs.Select(p => p.Fate));
    }

    [Fact]
    public void Another_priority_alone_is_a_change()
    {
        var pair = Assert.Single(AlarmMatching.Match([Alarm(0, 5)], [Alarm(0, 5, AlarmPriority.Medium)], Tolerance));

        Assert.Equal((AlarmFate.Changed, true, TimeSpan.Zero), (pair.Fate, pair.PriorityChanged, pair.MovedBy!.Value));
        Assert.Equal("medium instead of high", ComparisonWords.OfPair(pair));
    }

    [Fact]
    public void A_chattering_year_is_matched_in_bounded_memory()
    {
        var a = Enumerable.Range(0, 9000).Select(i => Alarm(i * 20, (i * 20) + 10)).ToList();
        var b = Enumerable.Range(0, 9000).Select(i => Alarm((i * 20) + 1, (i * 20) + 10)).ToList();

        Assert.All(AlarmMatching.Match(a, b, Tolerance), pair => Assert.Equal(TimeSpan.FromSeconds(1), pair.MovedBy));
    }

    private static List<RaisedAlarm> Sorted(IEnumerable<RaisedAlarm> alarms) =>
        [.. alarms.OrderBy(x => x.Condition, StringComparer.Ordinal).ThenBy(x => x.Raised).ThenBy(x => x.Until).ThenBy(x => x.Priority)];

    private static double Cost(RaisedAlarm a, RaisedAlarm b)
    {
        var moved = (b.Raised - a.Raised).Duration();
        return moved > Tolerance && !(a.Raised < b.Until && b.Raised < a.Until) ? double.PositiveInfinity : 0.99 * Math.Min(1, Math.Sqrt(moved / Tolerance));
    }

    // By the definition, over all pairings.
    private static double Cheapest(List<RaisedAlarm> a, List<RaisedAlarm> b, int i, int j, Dictionary<(int, int), double> known)
    {
        if (i == a.Count || j == b.Count)
            return 0.5 * (a.Count - i + b.Count - j);
        if (known.TryGetValue((i, j), out var best))
            return best;
        best = Math.Min(Cost(a[i], b[j]) + Cheapest(a, b, i + 1, j + 1, known), 0.5 + Math.Min(Cheapest(a, b, i + 1, j, known), Cheapest(a, b, i, j + 1, known)));
        return known[(i, j)] = best;
    }
}
