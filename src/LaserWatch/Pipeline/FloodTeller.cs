using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>
/// Says when a flood of alarms begins and is over, and what several machines' alarms point to, flood or not: in the log, and on a topic
/// of the agent's own.
/// </summary>
/// <remarks>
/// Belongs to the pipeline's one thread. A storm of thousands of alarms must not hold that up, so what takes long to make is made once
/// a tick.
/// </remarks>
public sealed class FloodTeller(FloodOptions options, Shop shop, StatusPublisher status, ILogger<FloodTeller> logger)
{
    /// <summary>A flood is known again after a restart when it began no longer ago; longer ones seem to have begun here.</summary>
    public static readonly TimeSpan LongestRecall = TimeSpan.FromDays(1);

    private const int MostNamed = 5;

    private readonly FloodWatch _watch = new(options);
    private readonly Dictionary<(string Machine, string Condition), AlarmChange> _standing = [];
    private IReadOnlyList<CommonCause> _causes = [];
    private bool _isNew = true;

    /// <summary>Takes up what was announced before the restart: that was told then.</summary>
    public void Recall(IEnumerable<AlarmChange> announced, Instant now)
    {
        foreach (var change in announced)
        {
            Follow(change);
            _watch.Observe(change);
        }

        _watch.Tick(now);
        _causes = CommonCause.In(_standing.Values, shop.Machines.Count, options);
        Show();
    }

    public void Observe(AlarmChange change)
    {
        Follow(change);
        Tell(_watch.Observe(change));
        _isNew = true;
    }

    public void Tick(Instant now)
    {
        var changes = _watch.Tick(now);
        Tell(changes);
        if (!_isNew && changes.Count == 0)
            return;

        var causes = CommonCause.In(_standing.Values, shop.Machines.Count, options);
        foreach (var cause in causes.Where(c => _causes.All(told => told.Kind != c.Kind)))
            logger.CommonCauseFound(cause.What);
        _causes = causes;
        _isNew = false;
        Show();
    }

    /// <summary>The wall clock has jumped: a flood must not last as long as the clock was set back.</summary>
    public void Jump(in ClockJump jump) => _watch.Shift(jump.By);

    /// <summary>Keeps what raised each alarm that stands; acknowledged, it stands all the same.</summary>
    private void Follow(AlarmChange change)
    {
        if (change.State == AlarmState.Unacknowledged)
            _standing[(change.Machine, change.Condition)] = change;
        else if (change.State != AlarmState.Acknowledged || change.IsLatched)
            _standing.Remove((change.Machine, change.Condition));
    }

    private void Tell(IReadOnlyList<FloodChange> changes)
    {
        foreach (var change in changes)
        {
            if (change.Began)
            {
                var roots = _watch.Alarms.Where(a => a.Cause is null).Select(a => $"{a.Change.Machine} {a.Change.Condition}").ToList();
                var more = roots.Count > MostNamed ? $" and {roots.Count - MostNamed} more" : "";
                logger.FloodBegan(change.Annunciations, options.WindowMinutes, string.Join(", ", roots.Take(MostNamed)) + more);
            }
            else
            {
                logger.FloodEnded(change.Annunciations, options.EndsBelow, options.WindowMinutes);
            }
        }
    }

    private void Show() => status.ShowFlood(FloodJson.Of(_watch, _causes));
}
