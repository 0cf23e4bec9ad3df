using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>One alarm from its raising to its end.</summary>
/// <param name="Priority">The highest it had.</param>
/// <param name="Acknowledged">When somebody said that it was seen; null: nobody did.</param>
/// <param name="Returned">When the condition was gone; null: it still stood at the end of the time told of.</param>
/// <param name="Shelved">Somebody put it aside: it was seen, though not acknowledged.</param>
public sealed record AlarmOccurrence(
    string Condition, AlarmPriority Priority, Instant Raised, double? Value, double? Limit, string Unit, string? Job, string Message,
    Instant? Acknowledged, string? By, Instant? Returned, bool Shelved);

/// <summary>How fast the alarms of one priority were acknowledged.</summary>
/// <param name="MedianSeconds">Of those acknowledged; null where none was.</param>
public sealed record Acknowledgement(
    AlarmPriority Priority, int Raised, int Acknowledged, int Shelved, int Never, double? MedianSeconds, double? LongestSeconds);

/// <summary>The alarms of one condition.</summary>
/// <param name="StandingSeconds">Time from raising to return, added up; what still stood counts to the end of the time told of.</param>
public sealed record ConditionCount(string Condition, AlarmPriority Highest, int Raised, Instant First, Instant Last, double StandingSeconds);

/// <summary>A machine's alarms, each from its raising to its end, made of the transitions that are stored.</summary>
/// <param name="Occurrences">In the order in which they were raised.</param>
/// <param name="ByPriority">Urgent first; only priorities that occurred.</param>
/// <param name="ByCondition">The most frequent first.</param>
public sealed record AlarmHistory(
    IReadOnlyList<AlarmOccurrence> Occurrences, IReadOnlyList<Acknowledgement> ByPriority, IReadOnlyList<ConditionCount> ByCondition)
{
    /// <param name="changes">In time order.</param>
    /// <param name="end">The end of the time told of.</param>
    public static AlarmHistory Of(IEnumerable<AlarmChange> changes, Instant end)
    {
        var found = new List<AlarmOccurrence>();
        var conditions = new Dictionary<string, Following>(StringComparer.Ordinal);
        foreach (var change in changes)
        {
            if (!conditions.TryGetValue(change.Condition, out var following))
                conditions.Add(change.Condition, following = new Following());
            following.Take(change, found);
        }

        return new(found, [.. Enum.GetValues<AlarmPriority>().Reverse().Select(priority => Of(found, priority)).OfType<Acknowledgement>()], Count(found, end));
    }

    private static Acknowledgement? Of(List<AlarmOccurrence> all, AlarmPriority priority)
    {
        var some = all.Where(alarm => alarm.Priority == priority).ToList();
        if (some.Count == 0)
            return null;
        var seconds = some.Where(alarm => alarm.Acknowledged is not null).Select(alarm => alarm.Acknowledged!.Value.SecondsSince(alarm.Raised)).Order().ToList();
        var shelved = some.Count(alarm => alarm.Acknowledged is null && alarm.Shelved);
        double? median = seconds.Count == 0 ? null : (seconds[(seconds.Count - 1) / 2] + seconds[seconds.Count / 2]) / 2;
        return new(priority, some.Count, seconds.Count, shelved, some.Count - seconds.Count - shelved, median, seconds.Count == 0 ? null : seconds[^1]);
    }

    private static List<ConditionCount> Count(List<AlarmOccurrence> all, Instant end) =>
    [
        .. all.GroupBy(alarm => alarm.Condition)
            .Select(group => new ConditionCount(
                group.Key, group.Max(alarm => alarm.Priority), group.Count(), group.First().Raised, group.Last().Raised,
                group.Sum(alarm => Math.Max(0, (alarm.Returned ?? end).SecondsSince(alarm.Raised)))))
            .OrderByDescending(count => count.Raised).ThenBy(count => count.Condition, StringComparer.Ordinal),
    ];

    /// <summary>One condition's way through its states.</summary>
    private sealed class Following
    {
        private AlarmState _state;
        private int? _standing;
        private readonly List<int> _unseen = [];

        public void Take(AlarmChange change, List<AlarmOccurrence> found)
        {
            var before = _state;
            _state = change.State;
            switch (change.State)
            {
                case AlarmState.Unacknowledged when _standing is { } worse:
                    found[worse] = found[worse] with { Priority = (AlarmPriority)Math.Max((int)found[worse].Priority, (int)change.Priority) };
                    break;
                case AlarmState.Unacknowledged:
                    _standing = found.Count;
                    _unseen.Add(found.Count);
                    found.Add(new(
                        change.Condition, change.Priority, change.Time, change.Value, change.Limit, change.Unit, change.Job, change.Message, null, null, null, false));
                    break;
                case AlarmState.Acknowledged when change.IsLatched:
                    Seen(change, found);
                    Return(change, found);
                    break;
                case AlarmState.Acknowledged:
                    Seen(change, found);
                    break;
                case AlarmState.SuppressedByDesign:
                    Return(change, found);
                    break;
                case AlarmState.Shelved or AlarmState.OutOfService:
                    foreach (var unseen in _unseen)
                        found[unseen] = found[unseen] with { Shelved = true };
                    _unseen.Clear();
                    break;
                case AlarmState.ReturnedUnacknowledged:
                    Return(change, found);
                    break;
                default:
                    if (before == AlarmState.ReturnedUnacknowledged && change.By is not null)
                        Seen(change, found);
                    Return(change, found);
                    break;
            }
        }

        private void Seen(AlarmChange change, List<AlarmOccurrence> found)
        {
            foreach (var unseen in _unseen)
                found[unseen] = found[unseen] with { Acknowledged = change.Time, By = change.By };
            _unseen.Clear();
        }

        private void Return(AlarmChange change, List<AlarmOccurrence> found)
        {
            if (_standing is { } standing)
                found[standing] = found[standing] with { Returned = change.Time };
            _standing = null;
        }
    }
}
