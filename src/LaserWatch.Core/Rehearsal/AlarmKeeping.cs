using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Rehearsal;

/// <summary>Makes whole alarms of their transitions.</summary>
/// <remarks>
/// An alarm stands while it is unacknowledged, or acknowledged with its condition still there; suppressed by design it does not, so one
/// that is there again in the next run is raised again, as it was for the people.
/// </remarks>
public sealed class AlarmKeeping
{
    private readonly Dictionary<(string Machine, string Condition), (Instant Raised, AlarmPriority Priority)> _standing = [];
    private readonly List<RaisedAlarm> _over = [];

    /// <param name="change">Of one alarm in time order.</param>
    public void Take(AlarmChange change)
    {
        var key = (change.Machine, change.Condition);
        var stands = change.State == AlarmState.Unacknowledged || (change.State == AlarmState.Acknowledged && !change.IsLatched);
        if (_standing.TryGetValue(key, out var since))
        {
            if (stands)
            {
                _standing[key] = since with { Priority = change.Priority > since.Priority ? change.Priority : since.Priority };
                return;
            }

            _standing.Remove(key);
            var at = change.Time > since.Raised ? change.Time : since.Raised;
            _over.Add(new(key.Machine, key.Condition, since.Raised, at, at, since.Priority));
        }
        else if (stands)
        {
            _standing.Add(key, (change.Time, change.Priority));
        }
    }

    /// <summary>All alarms, by when they were raised.</summary>
    /// <param name="end">When the recording ended: what stands still stood then.</param>
    public IReadOnlyList<RaisedAlarm> Until(Instant end) =>
    [
        .. _over.Concat(_standing.Select(s => new RaisedAlarm(
                s.Key.Machine, s.Key.Condition, s.Value.Raised, null, end > s.Value.Raised ? end : s.Value.Raised, s.Value.Priority)))
            .OrderBy(a => a.Raised).ThenBy(a => a.Machine, StringComparer.Ordinal).ThenBy(a => a.Condition, StringComparer.Ordinal).ThenBy(a => a.Until),
    ];
}
