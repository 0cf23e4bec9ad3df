using LaserWatch.Telemetry;

namespace LaserWatch.Rehearsal;

/// <summary>Finds which alarms of two settings are one and the same.</summary>
/// <remarks>
/// Two alarms of one machine and condition can be the same where they were raised within the tolerance, or stood at one time: a slow
/// fall that B notices days later is still the same fall. Of all pairings that keep the order of time the cheapest is taken. A pair
/// costs the root of how far it moved, one alone a half: that one vanished and one appeared is believed before that many
/// moved on, each to the next one's place. Changing A and B over gives the same pairs, changed over.
/// </remarks>
public static class AlarmMatching
{
    // Whole numbers, so that equal costs are equal whichever way they were summed.
    private const long Alone = 500_000;
    private const long DearestPair = 990_000;
    private const long NoPair = long.MaxValue / 2;

    // Above this an unbroken train of alarms is cut at its longest pause: the table of the search must not fill the memory.
    private const long MostCells = 16_000_000;

    private static readonly TimeSpan LeastTolerance = TimeSpan.FromSeconds(1);

    private enum Step : byte
    {
        Both,
        OnlyA,
        OnlyB,
    }

    /// <returns>By machine, condition and time.</returns>
    public static IReadOnlyList<AlarmPair> Match(IEnumerable<RaisedAlarm> a, IEnumerable<RaisedAlarm> b, TimeSpan tolerance)
    {
        var (ofA, ofB) = (ByAlarm(a), ByAlarm(b));
        List<AlarmPair> pairs = [];
        foreach (var key in ofA.Keys.Union(ofB.Keys).OrderBy(k => k.Machine, StringComparer.Ordinal).ThenBy(k => k.Condition, StringComparer.Ordinal))
        {
            foreach (var (inA, inB) in Stretches(ofA.GetValueOrDefault(key, []), ofB.GetValueOrDefault(key, []), tolerance))
                Search(inA, inB, tolerance, pairs);
        }

        return pairs;
    }

    private static Dictionary<(string Machine, string Condition), List<RaisedAlarm>> ByAlarm(IEnumerable<RaisedAlarm> alarms) =>
        alarms.GroupBy(x => (x.Machine, x.Condition)).ToDictionary(g => g.Key, g => g.OrderBy(x => x.Raised).ThenBy(x => x.Until).ThenBy(x => x.Priority).ToList());

    /// <summary>Cuts the time where nothing on the one side can be the same as anything on the other.</summary>
    private static IEnumerable<(List<RaisedAlarm> A, List<RaisedAlarm> B)> Stretches(List<RaisedAlarm> a, List<RaisedAlarm> b, TimeSpan tolerance)
    {
        var (i, j) = (0, 0);
        while (i < a.Count || j < b.Count)
        {
            var (fromA, fromB, reach) = (i, j, Instant.MinValue);
            while (i < a.Count || j < b.Count)
            {
                var next = j == b.Count || (i < a.Count && a[i].Raised <= b[j].Raised) ? a[i] : b[j];
                if ((i > fromA || j > fromB) && next.Raised > reach)
                    break;
                reach = Later(reach, Later(next.Until, next.Raised + tolerance));
                if (i < a.Count && ReferenceEquals(next, a[i]))
                    i++;
                else
                    j++;
            }

            foreach (var stretch in Bounded(a[fromA..i], b[fromB..j]))
                yield return stretch;
        }
    }

    private static IEnumerable<(List<RaisedAlarm> A, List<RaisedAlarm> B)> Bounded(List<RaisedAlarm> a, List<RaisedAlarm> b)
    {
        if ((long)a.Count * b.Count <= MostCells)
            return [(a, b)];
        var times = a.Concat(b).Select(x => x.Raised).Order().ToList();
        // The ends are left out, so that every cut makes both parts smaller.
        var (first, last) = (times.Count / 4, times.Count * 3 / 4);
        var at = Enumerable.Range(first, last - first).MaxBy(k => times[k] - times[k - 1]);
        var (cutA, cutB) = (a.FindIndex(x => x.Raised >= times[at]), b.FindIndex(x => x.Raised >= times[at]));
        (cutA, cutB) = (cutA < 0 ? a.Count : cutA, cutB < 0 ? b.Count : cutB);
        if (cutA + cutB == 0)
            return [(a, []), ([], b)]; // all of one instant
        return [.. Bounded(a[..cutA], b[..cutB]), .. Bounded(a[cutA..], b[cutB..])];
    }

    private static void Search(List<RaisedAlarm> a, List<RaisedAlarm> b, TimeSpan tolerance, List<AlarmPair> pairs)
    {
        // steps[i, j]: what is best done first of the alarms from i and from j on.
        var steps = new Step[a.Count + 1, b.Count + 1];
        var (below, row) = (new long[b.Count + 1], new long[b.Count + 1]);
        for (var i = a.Count; i >= 0; i--)
        {
            for (var j = b.Count; j >= 0; j--)
            {
                if (i == a.Count && j == b.Count)
                    row[j] = 0;
                else if (i == a.Count)
                    (steps[i, j], row[j]) = (Step.OnlyB, row[j + 1] + Alone);
                else if (j == b.Count)
                    (steps[i, j], row[j]) = (Step.OnlyA, below[j] + Alone);
                else
                    (steps[i, j], row[j]) = Best(a[i], b[j], below[j + 1], below[j], row[j + 1], tolerance);
            }

            (below, row) = (row, below);
        }

        for (var (i, j) = (0, 0); i < a.Count || j < b.Count;)
        {
            switch (steps[i, j])
            {
                case Step.Both:
                    pairs.Add(new(a[i++], b[j++]));
                    break;
                case Step.OnlyA:
                    pairs.Add(new(a[i++], null));
                    break;
                default:
                    pairs.Add(new(null, b[j++]));
                    break;
            }
        }
    }

    private static (Step Step, long Cost) Best(RaisedAlarm a, RaisedAlarm b, long afterBoth, long afterA, long afterB, TimeSpan tolerance)
    {
        // Equal costs are settled by what does not change when A and B are changed over: the earlier one goes alone.
        var best = afterA < afterB || (afterA == afterB && IsBefore(a, b)) ? (Step.OnlyA, Cost: afterA + Alone) : (Step.OnlyB, Cost: afterB + Alone);
        var together = afterBoth + CostOf(a, b, tolerance);
        return together <= best.Cost ? (Step.Both, together) : best;
    }

    private static bool IsBefore(RaisedAlarm a, RaisedAlarm b) => a.Raised < b.Raised || (a.Raised == b.Raised && a.Until <= b.Until);

    private static long CostOf(RaisedAlarm a, RaisedAlarm b, TimeSpan tolerance)
    {
        var moved = (b.Raised - a.Raised).Duration();
        if (moved > tolerance && !(a.Raised < b.Until && b.Raised < a.Until))
            return NoPair;
        var share = moved / (tolerance > LeastTolerance ? tolerance : LeastTolerance);
        return (long)(DearestPair * Math.Min(1, Math.Sqrt(share)));
    }

    private static Instant Later(Instant x, Instant y) => x > y ? x : y;
}
