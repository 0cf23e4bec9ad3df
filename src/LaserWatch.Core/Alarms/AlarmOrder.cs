namespace LaserWatch.Alarms;

/// <summary>An alarm in its place: beneath the one that explains it, or at the outside.</summary>
/// <param name="Cause">The alarm of the same machine, in the same list, that explains this one; null for a root.</param>
/// <param name="Depth">0 for a root, 1 for what it explains, and so on.</param>
public readonly record struct PlacedAlarm(AlarmChange Change, AlarmChange? Cause, int Depth);

/// <summary>Puts alarms in the order in which a person should take them: root causes first, each followed by what comes of it.</summary>
public static class AlarmOrder
{
    /// <summary>Roots by priority, then time; beneath each, what it explains, in the same order.</summary>
    /// <param name="alarms">One change of each alarm at most; of two of one alarm the later in the list counts.</param>
    /// <remarks>
    /// An alarm stands beneath the one that it says explains it, where that is in the list; else beneath the nearest that
    /// <see cref="Dependencies"/> names on the same machine; of two that may explain each other the earlier is the cause.
    /// </remarks>
    public static IReadOnlyList<PlacedAlarm> RootsFirst(IEnumerable<AlarmChange> alarms)
    {
        var byKey = new Dictionary<(string Machine, string Condition), AlarmChange>();
        foreach (var alarm in alarms)
            byKey[(alarm.Machine, alarm.Condition)] = alarm;

        var ofMachine = byKey.Values.ToLookup(alarm => alarm.Machine, StringComparer.Ordinal);
        var causes = new Dictionary<AlarmChange, AlarmChange?>(ReferenceEqualityComparer.Instance);
        foreach (var alarm in byKey.Values)
            causes.Add(alarm, CauseOf(alarm, ofMachine[alarm.Machine]));
        var effects = byKey.Values.Where(alarm => causes[alarm] is not null).ToLookup(alarm => causes[alarm]!, ReferenceEqualityComparer.Instance);
        var placed = new List<PlacedAlarm>(byKey.Count);
        foreach (var root in Ordered(byKey.Values.Where(alarm => causes[alarm] is null)))
            Place(root, null, 0);

        // Two that say they follow from each other have no root; they must not be lost for that.
        var seen = placed.Select(p => p.Change).ToHashSet(ReferenceEqualityComparer.Instance);
        foreach (var alarm in Ordered(byKey.Values.Where(alarm => !seen.Contains(alarm))))
            placed.Add(new(alarm, causes[alarm], 1));
        return placed;

        void Place(AlarmChange alarm, AlarmChange? cause, int depth)
        {
            placed.Add(new(alarm, cause, depth));
            foreach (var effect in Ordered(effects[alarm]))
                Place(effect, alarm, depth + 1);
        }
    }

    /// <summary>The alarm, of those of the same machine, that explains this one; null where none does.</summary>
    internal static AlarmChange? CauseOf(AlarmChange alarm, IEnumerable<AlarmChange> ofMachine)
    {
        var others = ofMachine.Where(other => other.Condition != alarm.Condition).ToList();
        if (alarm.ExplainedBy is { } told && others.Find(other => other.Condition == told) is { } cause)
            return cause;
        var candidates = others.Where(other => Dependencies.Explains(other.Condition, alarm.Condition) && !IsCauseOf(alarm, other)).ToList();
        foreach (var dependency in Dependencies.CausesOf(alarm.Condition))
        {
            if (candidates.Find(candidate => candidate.Condition == dependency.Cause) is { } nearest)
                return nearest;
        }

        // By way of one that is not in the list.
        return Ordered(candidates).FirstOrDefault();
    }

    /// <summary>Of two that may explain each other the earlier is the cause.</summary>
    private static bool IsCauseOf(AlarmChange one, AlarmChange other) =>
        Dependencies.Explains(one.Condition, other.Condition)
        && (one.Time, one.Condition).CompareTo((other.Time, other.Condition)) < 0;

    private static IEnumerable<AlarmChange> Ordered(IEnumerable<AlarmChange> alarms) => alarms
        .OrderByDescending(a => a.Priority).ThenBy(a => a.Time)
        .ThenBy(a => a.Machine, StringComparer.Ordinal).ThenBy(a => a.Condition, StringComparer.Ordinal);
}
