using LaserWatch.Alarms;

namespace LaserWatch.Rehearsal;

/// <summary>One condition of one machine under both settings, counted.</summary>
/// <param name="Moved">Raised under both, but at another time, of another length or priority.</param>
public sealed record ConditionTally(
    string Machine, string Condition, int RaisedA, int RaisedB, int Same, int Moved, int Vanish, int Appear, TimeSpan StoodA, TimeSpan StoodB);

/// <summary>One side of a comparison, counted over all machines.</summary>
/// <param name="ByPriority">Alarms raised, from low to urgent.</param>
/// <param name="Stood">The time in alarm, all alarms together.</param>
public sealed record SideTally(int Raised, IReadOnlyList<int> ByPriority, TimeSpan Stood)
{
    public static SideTally Of(IReadOnlyCollection<RaisedAlarm> alarms) => new(
        alarms.Count, [.. Enum.GetValues<AlarmPriority>().Select(p => alarms.Count(a => a.Priority == p))], Sum(alarms));

    internal static TimeSpan Sum(IEnumerable<RaisedAlarm> alarms) => TimeSpan.FromTicks(alarms.Sum(a => a.Length.Ticks));
}

/// <summary>Counts what a comparison found.</summary>
public static class RehearsalTally
{
    /// <summary>By machine and condition.</summary>
    public static IReadOnlyList<ConditionTally> ByCondition(IEnumerable<AlarmPair> pairs) =>
    [
        .. pairs.GroupBy(p => (p.Machine, p.Condition))
            .OrderBy(g => g.Key.Machine, StringComparer.Ordinal).ThenBy(g => g.Key.Condition, StringComparer.Ordinal)
            .Select(g => new ConditionTally(
                g.Key.Machine, g.Key.Condition, g.Count(p => p.A is not null), g.Count(p => p.B is not null),
                Count(g, AlarmFate.Same), Count(g, AlarmFate.Changed), Count(g, AlarmFate.Vanishes), Count(g, AlarmFate.Appears),
                SideTally.Sum(g.Select(p => p.A).OfType<RaisedAlarm>()), SideTally.Sum(g.Select(p => p.B).OfType<RaisedAlarm>()))),
    ];

    private static int Count(IEnumerable<AlarmPair> pairs, AlarmFate fate) => pairs.Count(p => p.Fate == fate);
}
