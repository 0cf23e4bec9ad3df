using System.Runtime.InteropServices;
using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>Takes up each machine's watch where the last process left it.</summary>
/// <remarks>
/// A saved state is up to a minute old. What was stored since is shown to the watch again, so that it stands where it would
/// have stood. What it says on that way was mostly said before: only what the alarm log does not hold is new. Ticks are not shown
/// again; what came of them is taken from the alarm log.
/// Where there is no readable state the watch learns from the stored samples, at most <see cref="LongestLook"/> back; the past
/// is not announced then, only what stands at its end and nobody was told.
/// </remarks>
public sealed class Resumption(ITelemetryStore store, Shop shop, ChannelTable channels, ILogger<Resumption> logger)
{
    public static readonly TimeSpan LongestLook = TimeSpan.FromDays(30);

    private static readonly TimeSpan LongestRun = TimeSpan.FromDays(1);

    // Sensors' clocks may be apart by the minute that the decoder allows; what a channel has said already is left out.
    private static readonly TimeSpan Overlap = TimeSpan.FromMinutes(2);

    private readonly List<ChannelValue> _group = [];

    /// <summary>What came of it.</summary>
    /// <param name="Watches">The watches that were taken up, in the order of their names.</param>
    /// <param name="Known">The newest state of each alarm that was announced before.</param>
    /// <param name="News">Changes that the alarm log does not hold: to be announced and stored.</param>
    /// <param name="InferredRuns">Runs worked out on the way; the store keeps each once.</param>
    /// <param name="Samples">Samples looked through.</param>
    public sealed record Outcome(
        IReadOnlyList<MachineWatch> Watches, IReadOnlyList<AlarmChange> Known, IReadOnlyList<AlarmChange> News,
        IReadOnlyList<JobEvent> InferredRuns, long Samples)
    {
        /// <summary>Our clock's time when the newest state was saved; a clock that is behind it was set back meanwhile.</summary>
        public Instant? SeenUntil { get; init; }
    }

    public Task<Outcome> RunAsync(CancellationToken stop) => RunAsync(null, stop);

    /// <param name="only">One machine; null: all that the store knows. Nothing is written to the store.</param>
    public async Task<Outcome> RunAsync(string? only, CancellationToken stop)
    {
        var found = new Findings();
        foreach (var machine in (await store.ReadMachinesAsync(stop)).Where(m => only is null || m == only).Order(StringComparer.Ordinal))
        {
            // In a full shop each message of this machine will be counted as not taken.
            if (shop.Find(machine) is { } watch)
                await TakeUpAsync(watch, only is null, found, stop);
        }

        return new(found.Watches, found.Known, found.News, found.InferredRuns, found.Samples) { SeenUntil = found.SeenUntil };
    }

    private async Task TakeUpAsync(MachineWatch fresh, bool isAgent, Findings found, CancellationToken stop)
    {
        var packed = await store.ReadWatchStateAsync(fresh.Machine, stop);
        var (watch, seenUntil) = Restore(fresh, packed);
        var learnsAnew = false;
        // One machine alone is looked at as the agent has learned it.
        if (isAgent && seenUntil is { } seen && await LearnedFromLeftOutAsync(watch, seen, stop))
        {
            (watch, seenUntil, learnsAnew) = (shop.Anew(watch.Machine), null, true);
            if (found.SeenUntil is null || seen > found.SeenUntil)
                found.SeenUntil = seen;
        }

        found.Watches.Add(watch);
        if (seenUntil is not null && (found.SeenUntil is null || seenUntil > found.SeenUntil))
            found.SeenUntil = seenUntil;
        var from = seenUntil is null
            ? learnsAnew ? Instant.MinValue : StartOfLook(await store.ReadExtentAsync(watch.Machine, stop))
            : (watch.Newest ?? seenUntil.Value) - Overlap;
        if (learnsAnew)
            logger.LearningAnewForAnnotations(watch.Machine);
        else if (packed is not null && seenUntil is null)
            logger.StateUnreadable(watch.Machine, from.ToString());

        var logged = await store.ReadAlarmChangesAsync(watch.Machine, Earlier(from, LongestLook), Instant.MaxValue, stop);
        var runs = await store.ReadJobRunsAsync(watch.Machine, seenUntil ?? Earlier(from, LongestRun), Instant.MaxValue, stop);
        var heard = new List<AlarmChange>();
        found.Samples += await ShowAsync(watch, from, await EventsAsync(watch.Machine, seenUntil, runs, stop), heard, stop);

        var known = runs.ToHashSet();
        found.InferredRuns.AddRange(watch.TakeInferredRuns().Where(run => !known.Contains(run)));
        var newest = logged.GroupBy(c => c.Condition).Select(g => g.Last()).ToList();
        watch.Resume(newest);
        found.Known.AddRange(newest);
        var said = logged.Select(Key).ToHashSet();
        found.News.AddRange(seenUntil is null ? Untold(watch, logged) : heard.Where(change => !said.Contains(Key(change))));
    }

    /// <summary>A span was annotated, or an annotation withdrawn, after the watch had learned from it: all is learned anew.</summary>
    /// <remarks>Only where the samples still reach back to when the watch began: a baseline of samples that are gone is better than none.</remarks>
    private async Task<bool> LearnedFromLeftOutAsync(MachineWatch watch, Instant seenUntil, CancellationToken stop)
    {
        var annotations = AnnotationBook.Of(await store.ReadServiceEventsAsync(watch.Machine, Instant.MinValue, Instant.MaxValue, stop));
        // Of a time that it has not seen yet it will be told in its place.
        var until = watch.Newest > seenUntil ? watch.Newest.Value : seenUntil;
        if (annotations.FingerprintUntil(until) == watch.LeftOutUntil(until))
            return false;
        var extent = await store.ReadExtentAsync(watch.Machine, stop);
        if (watch.Ledger.Began is not { } began || extent?.First <= began + Overlap)
            return true;
        logger.AnnotationsTooOld(watch.Machine, began.ToString());
        return false;
    }

    private (MachineWatch Watch, Instant? SeenUntil) Restore(MachineWatch fresh, byte[]? packed)
    {
        if (packed is null)
            return (fresh, null);
        if (SavedWatch.TryUnpack(packed, out var seenUntil, out var state) && fresh.TryRestore(state))
            return (fresh, seenUntil);
        return (shop.Anew(fresh.Machine), null); // a failed restoring leaves a watch half filled
    }

    /// <summary>Shows samples and events in time order; those of one instant together, as they came.</summary>
    private async Task<long> ShowAsync(
        MachineWatch watch, Instant from, Queue<(Instant At, object What)> events, List<AlarmChange> heard, CancellationToken stop)
    {
        var samples = 0L;
        var at = from;
        var notBefore = (watch.Newest ?? from) - TimeSpan.FromSeconds(5);
        var saidUntil = watch.Status.Channels.ToDictionary(c => c.Channel, c => c.LastAt);
        await foreach (var sample in store.ReadSamplesAsync(watch.Machine, null, from, Instant.MaxValue, channels, stop))
        {
            var known = sample.Channel.IsCanonical ? Instant.MinValue : notBefore;
            if (sample.At <= saidUntil.GetValueOrDefault(sample.Channel.Name, known))
                continue;
            samples++;
            if (_group.Count > 0 && sample.At != at)
                Show();
            at = sample.At;
            while (events.TryPeek(out var next) && next.At <= at)
                ShowEvent();
            _group.Add(new(sample.Channel, sample.Value));
        }

        Show();
        while (events.Count > 0)
            ShowEvent();
        return samples;

        void Show()
        {
            if (_group.Count > 0)
                heard.AddRange(watch.Observe(at, CollectionsMarshal.AsSpan(_group)));
            _group.Clear();
        }

        void ShowEvent()
        {
            var what = events.Dequeue().What;
            heard.AddRange(what is JobEvent job ? watch.Observe(job) : watch.Observe((ServiceEvent)what));
        }
    }

    // A state knows the events that came before it was saved. Without one, a tube put in years ago still matters. Inferred
    // runs are left out: the watch works them out again.
    private async Task<Queue<(Instant At, object What)>> EventsAsync(
        string machine, Instant? seenUntil, IReadOnlyList<JobEvent> runs, CancellationToken stop)
    {
        var services = await store.ReadServiceEventsAsync(machine, seenUntil ?? Instant.MinValue, Instant.MaxValue, stop);
        return new(services.Select(service => (service.At, What: (object)service))
            .Concat(runs.Where(run => !run.Inferred).Select(run => (run.At, What: (object)run)))
            .Where(e => seenUntil is null || e.At > seenUntil)
            .OrderBy(e => e.At));
    }

    private static Instant Earlier(Instant from, TimeSpan by) => from == Instant.MinValue ? from : from - by;

    private static Instant StartOfLook(SampleExtent? extent)
    {
        if (extent is not { } known)
            return Instant.MinValue;
        var earliest = known.Last - LongestLook;
        return known.First > earliest ? known.First : earliest;
    }

    private static IEnumerable<AlarmChange> Untold(MachineWatch watch, IReadOnlyList<AlarmChange> logged) =>
        watch.Standing.Where(standing => logged.LastOrDefault(c => c.Condition == standing.Condition)?.State != standing.State);

    private static (string Condition, AlarmState State, Instant Time) Key(AlarmChange change) =>
        (change.Condition, change.State, change.Time);

    private sealed class Findings
    {
        public readonly List<MachineWatch> Watches = [];
        public readonly List<AlarmChange> Known = [];
        public readonly List<AlarmChange> News = [];
        public readonly List<JobEvent> InferredRuns = [];
        public long Samples;
        public Instant? SeenUntil;
    }
}
