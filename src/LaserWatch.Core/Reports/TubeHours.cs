using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Life;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Reports;

/// <summary>The ages of a machine's tubes, each at its end, found by the same ledger that the watch counts with.</summary>
public sealed class TubeHours(MonitorOptions options) : IHistoryListener
{
    private readonly ServiceLedger _ledger = new();
    private readonly Dictionary<Instant, TubeAge> _atReplacement = [];
    private bool _knowsLasing;
    private bool _on;

    public IReadOnlyCollection<Channel> Channels { get; } = [Channel.TubeCurrent, Channel.Lasing, Channel.Runtime];

    public void Begin(HistorySpan span)
    {
    }

    public void Take(ReadOnlySpan<Sample> samples)
    {
        foreach (ref readonly var sample in samples)
        {
            var channel = sample.Channel;
            if (channel == Channel.Lasing)
                (_knowsLasing, _on) = (true, sample.Value >= 0.5);
            else if (channel == Channel.TubeCurrent && !_knowsLasing)
                _on = sample.Value >= options.Runs.BeamOnMilliamps;
            else if (channel == Channel.Runtime)
                _ledger.ReadMeter(sample.At, sample.Value);
            _ledger.Follow(sample.At, _on);
        }
    }

    public void Take(in Moments moments)
    {
        var times = moments.Times;
        var lasing = moments.Of(Channel.Lasing);
        var current = moments.Of(Channel.TubeCurrent);
        var runtime = moments.Of(Channel.Runtime);
        for (var i = 0; i < times.Length; i++)
        {
            if (!double.IsNaN(lasing[i]))
                (_knowsLasing, _on) = (true, lasing[i] >= 0.5);
            else if (!_knowsLasing && !double.IsNaN(current[i]))
                _on = current[i] >= options.Runs.BeamOnMilliamps;
            var at = new Instant(times[i]);
            var isRead = !double.IsNaN(runtime[i]);
            // A day's stand is noted by the first sample of its first instant, which the meter may be.
            if (isRead && IsFirst(moments, Channel.Runtime, i))
                _ledger.ReadMeter(at, runtime[i]);
            _ledger.Follow(at, _on);
            if (isRead && !IsFirst(moments, Channel.Runtime, i))
                _ledger.ReadMeter(at, runtime[i]);
        }
    }

    private static bool IsFirst(in Moments moments, Channel channel, int row)
    {
        for (var place = 0; moments.Channels[place] != channel; place++)
        {
            if (!double.IsNaN(moments[place, row]))
                return false;
        }

        return true;
    }

    public void Take(JobEvent run)
    {
    }

    public void Take(ServiceEvent service)
    {
        if (TubeConditions.Replaces(service))
            _atReplacement[service.At] = AgeAt(service.At);
        _ledger.Observe(service);
    }

    public void End()
    {
    }

    /// <summary>The age at the moment the tube was taken out, or at <paramref name="now"/> where it is in.</summary>
    public TubeAge AgeOf(TubePeriod tube, Instant now) =>
        tube.Removed is { } removed && _atReplacement.TryGetValue(removed, out var then) ? then : AgeAt(now);

    // What the configuration says is of the tube that is in now, and says nothing of one that was out before.
    private TubeAge AgeAt(Instant now)
    {
        var life = options.TubeLife;
        return TubeAge.Of(_ledger, life.Installed >= now ? life with { Installed = null, MeterAtInstallHours = null } : life, now);
    }
}
