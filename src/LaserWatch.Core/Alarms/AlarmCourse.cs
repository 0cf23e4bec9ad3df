using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>One alarm's way through its states, counted over a time; what it did before tells only how that time began.</summary>
internal sealed class AlarmCourse
{
    private readonly int[] _timesInto = new int[Enum.GetValues<AlarmState>().Length];
    private readonly List<TimeSpan> _acknowledgedAfter = [];
    private readonly HashSet<long> _staleDays = [];
    private readonly Instant _from;
    private readonly Instant _to;
    private Instant? _standsSince;
    private Instant? _unseenSince;
    private Instant _raised;
    private bool _stands;

    /// <param name="changes">Of one alarm, in time order, all before <paramref name="to"/>.</param>
    public AlarmCourse(IEnumerable<AlarmChange> changes, Instant from, Instant to)
    {
        (_from, _to) = (from, to);
        foreach (var change in changes)
            Take(change);
        EndStanding(to);
        IsStaleAtEnd = _standsSince is { } since && to - since > AlarmPerformance.StaleAfter;
    }

    public AlarmState AtEnd { get; private set; }

    /// <summary>Times it ended by itself, unacknowledged, soon after it was raised within the time.</summary>
    public int Fleeting { get; private set; }

    public IReadOnlyList<TimeSpan> AcknowledgedAfter => _acknowledgedAfter;

    /// <summary>Nobody has acknowledged it at the end.</summary>
    public bool IsWaiting => AtEnd is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged;

    public bool IsStaleAtEnd { get; }

    /// <summary>UTC days of the time, counted from 1970, in which it was in alarm for more than a day already.</summary>
    public IReadOnlyCollection<long> StaleDays => _staleDays;

    public int TimesInto(AlarmState state) => _timesInto[(int)state];

    private void Take(AlarmChange change)
    {
        var before = AtEnd;
        AtEnd = change.State;
        var counts = change.Time >= _from;
        if (counts && change.State != before)
            _timesInto[(int)change.State]++;

        // A latched alarm waits for a person, but its condition is over.
        var stood = _stands;
        _stands = change.State is AlarmState.Unacknowledged || (change.State is AlarmState.Acknowledged && !change.IsLatched);
        if (_stands && !stood)
        {
            _standsSince = _raised = change.Time;
        }
        else if (!_stands && stood)
        {
            EndStanding(change.Time);
            _standsSince = null;
            if (before == AlarmState.Unacknowledged && change.State == AlarmState.ReturnedUnacknowledged && _raised >= _from
                && change.Time - _raised <= AlarmPerformance.FleetingWithin)
            {
                Fleeting++;
            }
        }

        if (change.State == AlarmState.Unacknowledged)
        {
            _unseenSince ??= change.Time;
        }
        else if (change.State != AlarmState.ReturnedUnacknowledged)
        {
            var seen = change.State == AlarmState.Acknowledged || (change.State == AlarmState.Normal && change.By is not null);
            if (seen && counts && _unseenSince is { } since)
                _acknowledgedAfter.Add(change.Time - since);
            _unseenSince = null;
        }
    }

    private void EndStanding(Instant at)
    {
        if (at <= _from || _standsSince is not { } since || at - since <= AlarmPerformance.StaleAfter)
            return;
        var stale = since + AlarmPerformance.StaleAfter;
        var first = AlarmPerformance.HourOf(stale > _from ? stale : _from);
        var end = AlarmPerformance.HourOf((at < _to ? at : _to) - TimeSpan.FromTicks(1));
        for (var day = AlarmPerformance.Floor(first, 24); day <= AlarmPerformance.Floor(end, 24); day++)
            _staleDays.Add(day);
    }
}
