using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Life;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Reports;

/// <summary>The age of a tube at the end of its stored time, found by the same ledger that the watch counts with.</summary>
/// <param name="to">What is not before this is left out: another tube's.</param>
public sealed class TubeHours(MonitorOptions options, Instant to) : IHistoryListener
{
    private readonly ServiceLedger _ledger = new();
    private bool _knowsLasing;
    private bool _on;

    /// <summary>The log so far, and the beam hours since each work.</summary>
    public ServiceLedger Ledger => _ledger;

    public IReadOnlyCollection<Channel> Channels { get; } = [Channel.TubeCurrent, Channel.Lasing, Channel.Runtime];

    public void Begin(HistorySpan span)
    {
    }

    public void Take(ReadOnlySpan<Sample> samples)
    {
        foreach (ref readonly var sample in samples)
        {
            if (sample.At >= to)
                return;
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

    public void Take(JobEvent run)
    {
    }

    public void Take(ServiceEvent service)
    {
        if (service.At < to)
            _ledger.Observe(service);
    }

    public void End()
    {
    }

    public TubeAge Age(Instant now) => TubeAge.Of(_ledger, options.TubeLife, now);
}
