using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Reports;

/// <summary>The operating conditions of each tube that was in the machine, in one walk: a replacement begins anew.</summary>
/// <param name="begin">Makes the conditions of the tube put in at the instant given; null: of the one that was in before the log.</param>
public sealed class TubeConditions(IReadOnlyCollection<Channel> channels, Func<Instant?, OperatingConditions> begin) : IHistoryListener
{
    private readonly List<(Instant? Installed, OperatingConditions Conditions)> _tubes = [(null, begin(null))];
    private JobEvent? _run;

    public IReadOnlyCollection<Channel> Channels => channels;

    /// <summary>The service means that another tube is in now.</summary>
    public static bool Replaces(ServiceEvent service) =>
        string.Equals(service.Part, "tube", StringComparison.OrdinalIgnoreCase) && ServiceLedger.Replaces(service.Action);

    public void Begin(HistorySpan span)
    {
    }

    public void Take(ReadOnlySpan<Sample> samples) => _tubes[^1].Conditions.Take(samples);

    public void Take(in Moments moments) => _tubes[^1].Conditions.Take(moments);

    public void Take(JobEvent run)
    {
        _run = run;
        _tubes[^1].Conditions.Take(run);
    }

    public void Take(ServiceEvent service)
    {
        if (!Replaces(service))
            return;
        _tubes.Add((service.At, begin(service.At)));
        if (_run is { } under)
            _tubes[^1].Conditions.Take(under with { At = service.At });
    }

    public void End()
    {
    }

    /// <summary>Of the tube put in at the instant given; null: of the first.</summary>
    public OperatingConditions Of(Instant? installed) => _tubes.FindLast(tube => tube.Installed == installed).Conditions ?? _tubes[0].Conditions;
}
