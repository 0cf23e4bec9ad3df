using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>Counts what was not taken, by reason; logs each reason and topic at most once a minute.</summary>
/// <remarks>
/// Written by the pipeline alone. Memory is bounded however many topics there are: the counts are kept by machine only for
/// machines of the shop, and everything else goes to the total.
/// </remarks>
public sealed class RejectionLedger(ILogger<RejectionLedger> logger)
{
    /// <summary>Pairs of reason and topic that are told apart in the log within one minute.</summary>
    public const int MostTopics = 1000;

    private static readonly int Reasons = Enum.GetValues<Rejection>().Length;

    private readonly long[] _total = new long[Reasons];
    private readonly long[] _elsewhere = new long[Reasons];
    private readonly Dictionary<string, long[]> _byMachine = new(StringComparer.Ordinal);
    private readonly LogThrottle<(Rejection, string)> _throttle = new(TimeSpan.FromMinutes(1), MostTopics);
    private readonly HashSet<string> _skewed = new(StringComparer.Ordinal);

    /// <summary>Samples whose sensor's time was out of bounds, so that arrival time was taken.</summary>
    public long SkewedTimes { get; private set; }

    /// <summary>What was not taken in all, by reason; reasons that never came are left out.</summary>
    public IReadOnlyDictionary<string, long> Total => Named(_total);

    /// <summary>How often the reason came. Any thread may ask.</summary>
    public long CountOf(Rejection reason) => Volatile.Read(ref _total[(int)reason]);

    /// <summary>What was not taken of one machine; and, as <c>elsewhere_…</c>, of topics that belong to none of the shop.</summary>
    public IReadOnlyDictionary<string, long> Of(string machine)
    {
        var named = _byMachine.TryGetValue(machine, out var counts) ? Named(counts) : [];
        foreach (var (reason, count) in Named(_elsewhere))
            named.Add("elsewhere_" + reason, count);
        return named;
    }

    /// <param name="machine">A machine of the shop; null where it is not known.</param>
    public void Count(Rejection reason, string? machine, string topic, string? detail, Instant at)
    {
        _total[(int)reason]++;
        if (machine is null)
        {
            _elsewhere[(int)reason]++;
        }
        else
        {
            if (!_byMachine.TryGetValue(machine, out var counts))
                _byMachine.Add(machine, counts = new long[Reasons]);
            counts[(int)reason]++;
        }

        var shown = Printable(topic);
        if (_throttle.MaySpeak((reason, shown), at, out var heldBack))
            logger.MessageRejected(shown, NameOf(reason), detail is null ? "" : $" ({detail})", heldBack == 0 ? "" : $"; and {heldBack} more since that was last said");
    }

    /// <summary>Counts times that were out of bounds; each topic is logged once.</summary>
    public void CountSkew(string topic, int samples)
    {
        SkewedTimes += samples;
        if (_skewed.Count < MostTopics && _skewed.Add(topic))
            logger.SensorClockSkewed(Printable(topic));
    }

    /// <summary>The reason as printed: <c>malformed_json</c>.</summary>
    public static string NameOf(Rejection reason) =>
        string.Concat(reason.ToString().Select((c, i) => char.IsAsciiLetterUpper(c) && i > 0 ? $"_{char.ToLowerInvariant(c)}" : $"{char.ToLowerInvariant(c)}"));

    private static Dictionary<string, long> Named(long[] counts)
    {
        var named = new Dictionary<string, long>();
        for (var i = 0; i < counts.Length; i++)
        {
            if (counts[i] > 0)
                named.Add(NameOf((Rejection)i), counts[i]);
        }

        return named;
    }

    // A topic may hold anything up to 64 KiB; a log line must not.
    private static string Printable(string topic)
    {
        const int most = 120;
        var cut = topic.Length <= most ? topic : topic[..most] + "…";
        return cut.AsSpan().ContainsAnyInRange('\0', '\x1f') ? string.Concat(cut.Select(c => char.IsControl(c) ? '?' : c)) : cut;
    }
}
