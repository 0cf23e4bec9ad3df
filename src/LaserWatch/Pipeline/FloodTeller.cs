using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>Says when a flood of alarms begins, what it points to, and when it is over: in the log and on the agent's own topic.</summary>
/// <remarks>Belongs to the pipeline's one thread.</remarks>
public sealed class FloodTeller(FloodOptions options, Shop shop, StatusPublisher status, ILogger<FloodTeller> logger)
{
    /// <summary>A flood is known again after a restart when it began no longer ago; longer ones seem to have begun here.</summary>
    public static readonly TimeSpan LongestRecall = TimeSpan.FromDays(1);

    private const int MostNamed = 5;

    private readonly FloodWatch _watch = new(options);
    private readonly HashSet<string> _causesTold = new(StringComparer.Ordinal);

    /// <summary>Takes up what was announced before the restart; its floods were told then.</summary>
    public void Recall(IEnumerable<AlarmChange> announced, Instant now)
    {
        foreach (var change in announced)
            _watch.Observe(change);
        _watch.Tick(now);
        _causesTold.UnionWith(Causes().Select(c => c.Kind));
        Show();
    }

    public void Observe(AlarmChange change)
    {
        var before = _watch.Annunciations;
        Tell(_watch.Observe(change));
        if (!_watch.InFlood || _watch.Annunciations == before)
            return;
        foreach (var cause in Causes())
        {
            if (_causesTold.Add(cause.Kind))
                logger.CommonCauseFound(cause.What);
        }

        Show();
    }

    public void Tick(Instant now) => Tell(_watch.Tick(now));

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
                _causesTold.Clear();
            }

            Show();
        }
    }

    private IReadOnlyList<CommonCause> Causes() => _watch.CommonCauses(shop.Machines.Count);

    private void Show() => status.ShowFlood(FloodJson.Of(_watch, Causes()));
}
