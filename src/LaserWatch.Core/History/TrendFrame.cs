using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>What a trend needs besides the walk: whose it is, which days are wanted, what stands beside it.</summary>
/// <param name="From">Estimates of days that began before are left out, but for the baseline they count. <see cref="Instant.MinValue"/>: all.</param>
/// <param name="To">Not included.</param>
/// <param name="Services">The machine's service log; only what lies in the trend's time is marked.</param>
/// <param name="KnownGaps">Time that the store knows it lacks.</param>
/// <param name="Cautions">Sentences of the caller's own, such as sensor faults in that time.</param>
public sealed record TrendFrame(
    string Machine, MonitorOptions Options, Instant From, Instant To, IReadOnlyList<ServiceEvent> Services, IReadOnlyList<TrendGap> KnownGaps,
    IReadOnlyList<string> Cautions)
{
    /// <summary>Of every interval.</summary>
    public double Confidence { get; init; } = 0.90;

    internal List<DailyEstimate> Within(IEnumerable<DailyEstimate> days) => [.. days.Where(day => day.At >= From && day.At < To)];

    internal List<ServiceMark> Marks(IReadOnlyList<DailyEstimate> days, Instant? notBefore = null, Instant? notAfter = null)
    {
        if (days.Count == 0)
            return [];
        // A day either side: work is done before the first cut, and after the last.
        var (first, last) = (days[0].At - TimeSpan.FromDays(1), days[^1].At + TimeSpan.FromDays(1));
        if (notBefore < first)
            first = notBefore.Value;
        return
        [
            .. Services.Where(service => service.At >= first && service.At <= last && service.At >= From && service.At < To && !(service.At > notAfter) && !Annotation.IsOne(service))
                .OrderBy(service => service.At).Select(ServiceMark.Of),
        ];
    }

    internal List<TrendGap> GapsWithin(IReadOnlyList<DailyEstimate> days) =>
        days.Count == 0 ? [] : [.. KnownGaps.Where(gap => gap.To > days[0].At && gap.From < days[^1].At)];
}
