using System.Globalization;

namespace LaserWatch.Rehearsal;

/// <summary>What a comparison found, in plain words.</summary>
public static class ComparisonWords
{
    // More conditions than this belong into the table.
    private const int MostConditions = 6;

    public static string Summary(Comparison comparison)
    {
        var (a, b) = (comparison.A.Raised, comparison.B.Raised);
        if (comparison.Pairs.Count == 0)
            return "Neither A nor B raises an alarm.";
        if (comparison.IsSame)
            return a == 1 ? "A and B raise the same alarm, at the same time." : $"A and B raise the same {Number(a)} alarms, at the same times.";
        var count = b == a ? $"B raises as many alarms as A ({Number(a)})"
            : $"B raises {Number(Math.Abs(b - a))} {(Math.Abs(b - a) == 1 ? "alarm" : "alarms")} {(b < a ? "fewer" : "more")} than A ({Number(b)} instead of {Number(a)})";
        var machines = comparison.Pairs.Select(p => p.Machine).Distinct().Count();
        var changed = comparison.Conditions.Where(c => c.Moved + c.Vanish + c.Appear > 0)
            .OrderByDescending(c => c.Vanish + c.Appear).ThenByDescending(c => c.Moved).ToList();
        List<string> parts = [count, .. changed.Take(MostConditions).Select(c => $"{(machines > 1 ? c.Machine + " " : "")}{OfCondition(c, comparison)}")];
        if (changed.Count > MostConditions)
            parts.Add($"{Number(changed.Count - MostConditions)} further conditions change");
        return string.Join("; ", parts) + ".";
    }

    /// <summary>How an alarm is under B, such as <c>2 d 4 h later, medium instead of high</c>.</summary>
    public static string OfPair(AlarmPair pair)
    {
        if (pair.Fate is not AlarmFate.Changed)
            return pair.Fate switch { AlarmFate.Same => "same", AlarmFate.Vanishes => "vanishes", _ => "appears" };
        List<string> parts = [];
        if (pair.MovedBy is { } moved && moved != TimeSpan.Zero)
            parts.Add(SpanWords.Moved(moved));
        if (pair.PriorityChanged)
            parts.Add($"{Alarms.AlarmNames.Name(pair.B!.Priority)} instead of {Alarms.AlarmNames.Name(pair.A!.Priority)}");
        if (pair.LongerBy is { } longer && longer != TimeSpan.Zero)
            parts.Add($"{SpanWords.Of(longer)} {(longer > TimeSpan.Zero ? "longer" : "shorter")}");
        return parts.Count > 0 ? string.Join(", ", parts) : "stands at the end under one of them only";
    }

    private static string OfCondition(ConditionTally c, Comparison comparison)
    {
        var pairs = comparison.Pairs.Where(p => p.Machine == c.Machine && p.Condition == c.Condition).ToList();
        var moved = pairs.Where(p => p.Fate == AlarmFate.Changed).ToList();
        if (pairs.Count == 1)
        {
            return pairs[0].Fate switch
            {
                AlarmFate.Vanishes => $"{c.Condition} vanishes",
                AlarmFate.Appears => $"{c.Condition} appears",
                _ => moved[0].MovedBy == TimeSpan.Zero ? $"{c.Condition} is {OfPair(moved[0])}" : $"{c.Condition} comes {OfPair(moved[0])}",
            };
        }

        List<string> parts = [];
        if (c.Vanish > 0)
            parts.Add($"{Number(c.Vanish)} {(c.Vanish == 1 ? "vanishes" : "vanish")}");
        if (c.Appear > 0)
            parts.Add($"{Number(c.Appear)} {(c.Appear == 1 ? "appears" : "appear")}");
        if (moved.Count == 1)
            parts.Add($"1 is {OfPair(moved[0])}");
        else if (moved.Count > 1)
            parts.Add($"{Number(moved.Count)} change ({Median(moved)})");
        return $"{c.Condition}: {string.Join(", ", parts)}";
    }

    private static string Median(List<AlarmPair> moved)
    {
        var by = moved.Select(p => p.MovedBy!.Value).Order().ToList();
        return $"half of them come {SpanWords.Moved(by[by.Count / 2])} or {(by[by.Count / 2] < TimeSpan.Zero ? "still earlier" : "still later")}" is var words && by[0] == by[^1]
            ? $"{(by[0] == TimeSpan.Zero ? "" : "all ")}{SpanWords.Moved(by[0])}" : words;
    }

    private static string Number(int count) => count.ToString(CultureInfo.InvariantCulture);
}
