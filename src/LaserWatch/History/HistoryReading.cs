using LaserWatch.Jobs;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>Walks through a machine's stored time once, for several listeners: samples in blocks, with runs and services in their places.</summary>
/// <remarks>Only the channels that a listener wants are read. Nothing is written.</remarks>
public sealed class HistoryReading(ITelemetryStore store, ChannelTable table)
{
    // A run that began before the span may be under way at its start.
    private static readonly TimeSpan LongestRun = TimeSpan.FromDays(1);

    /// <param name="from">Included; <see cref="Instant.MinValue"/>: from the first sample.</param>
    /// <param name="to">Not included; <see cref="Instant.MaxValue"/>: to the last sample.</param>
    /// <returns>The number of samples that were read.</returns>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public async Task<long> RunAsync(
        string machine, Instant from, Instant to, IReadOnlyList<IHistoryListener> listeners, CancellationToken stop)
    {
        var extent = await store.ReadExtentAsync(machine, stop).ConfigureAwait(false);
        var runs = await store.ReadJobRunsAsync(machine, Instant.MinValue, to, stop).ConfigureAwait(false);
        var services = await store.ReadServiceEventsAsync(machine, Instant.MinValue, to, stop).ConfigureAwait(false);
        var begin = from == Instant.MinValue && extent is { } known ? known.First : from;
        foreach (var listener in listeners)
            listener.Begin(new HistorySpan(machine, begin, to, runs.Count > 0));

        var events = InOrder(runs.Where(run => run.At >= begin - LongestRun), services);
        var (next, samples) = (0, 0L);
        var wanted = listeners.SelectMany(listener => listener.Channels).Distinct().ToList();
        if (wanted.Count > 0 && extent is not null)
        {
            await foreach (var stretch in store.ReadStretchesAsync(machine, wanted, from, to, table, stop).ConfigureAwait(false))
            {
                samples += stretch.Samples;
                next = stretch.Singly.IsEmpty ? Show(stretch.Together, events, next, listeners) : Show(stretch.Singly.Span, events, next, listeners);
            }
        }

        for (; next < events.Count; next++)
            Show(events[next], listeners);
        foreach (var listener in listeners)
            listener.End();
        return samples;
    }

    // At one instant services go first (a new tube is in before it is run), then ends, then starts; a start whose job was recognised after one whose was not.
    private static List<object> InOrder(IEnumerable<JobEvent> runs, IReadOnlyList<ServiceEvent> services) =>
    [
        .. services.Select(service => (service.At, Rank: 0, What: (object)service))
            .Concat(runs.Select(run => (run.At, Rank: run.Kind == JobEventKind.End ? 1 : run.Job is null ? 2 : 3, What: (object)run)))
            .OrderBy(e => e.At).ThenBy(e => e.Rank)
            .Select(e => e.What),
    ];

    private static int Show(ReadOnlySpan<Sample> block, List<object> events, int next, IReadOnlyList<IHistoryListener> listeners)
    {
        while (block.Length > 0 && next < events.Count && At(events[next]) <= block[^1].At)
        {
            var before = CountBefore(block, At(events[next]));
            Show(block[..before], listeners);
            block = block[before..];
            Show(events[next++], listeners);
        }

        Show(block, listeners);
        return next;
    }

    private static int Show(Moments moments, List<object> events, int next, IReadOnlyList<IHistoryListener> listeners)
    {
        while (moments.Count > 0 && next < events.Count && At(events[next]).UnixNanoseconds <= moments.Times[^1])
        {
            var before = moments.Times.BinarySearch(At(events[next]).UnixNanoseconds);
            before = before < 0 ? ~before : before;
            Show(moments.Slice(0, before), listeners);
            moments = moments.Slice(before, moments.Count - before);
            Show(events[next++], listeners);
        }

        Show(moments, listeners);
        return next;
    }

    private static void Show(in Moments moments, IReadOnlyList<IHistoryListener> listeners)
    {
        if (moments.Count == 0)
            return;
        foreach (var listener in listeners)
            listener.Take(moments);
    }

    private static int CountBefore(ReadOnlySpan<Sample> block, Instant at)
    {
        var (low, high) = (0, block.Length);
        while (low < high)
        {
            var middle = (low + high) / 2;
            if (block[middle].At < at)
                low = middle + 1;
            else
                high = middle;
        }

        return low;
    }

    private static void Show(ReadOnlySpan<Sample> samples, IReadOnlyList<IHistoryListener> listeners)
    {
        if (samples.IsEmpty)
            return;
        foreach (var listener in listeners)
            listener.Take(samples);
    }

    private static void Show(object what, IReadOnlyList<IHistoryListener> listeners)
    {
        foreach (var listener in listeners)
        {
            if (what is JobEvent run)
                listener.Take(run);
            else
                listener.Take((ServiceEvent)what);
        }
    }

    private static Instant At(object what) => what is JobEvent run ? run.At : ((ServiceEvent)what).At;
}
