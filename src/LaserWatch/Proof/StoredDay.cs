using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>The leaves of a machine's UTC day, as a store has them now.</summary>
internal static class StoredDay
{
    /// <summary>Fills the leaves with the samples of a day.</summary>
    public static async Task ReadSamplesAsync(
        ITelemetryStore store, string machine, DateOnly day, ChannelTable table, SampleLeaves leaves, CancellationToken stop)
    {
        leaves.Clear();
        await foreach (var block in store.ReadSampleBlocksAsync(machine, null, UtcDay.Start(day), UtcDay.End(day), table, stop).ConfigureAwait(false))
            Add(leaves, block.Span);
        leaves.Complete();
    }

    /// <summary>The tree of sample leaves.</summary>
    public static SealedTree TreeOf(IReadOnlyList<SampleLeaf> leaves)
    {
        var counts = new SortedDictionary<string, long>(StringComparer.Ordinal);
        foreach (var leaf in leaves)
            counts[leaf.Channel.Name] = counts.GetValueOrDefault(leaf.Channel.Name) + leaf.Count;
        return new SealedTree(leaves.Count, MerkleTree.Root(leaves, leaf => leaf.Hash), new Dictionary<string, long>(counts));
    }

    public static Digest[] HashesOf(IReadOnlyList<SampleLeaf> leaves)
    {
        var hashes = new Digest[leaves.Count];
        for (var i = 0; i < hashes.Length; i++)
            hashes[i] = leaves[i].Hash;
        return hashes;
    }

    private static void Add(SampleLeaves leaves, ReadOnlySpan<Sample> block)
    {
        foreach (var sample in block)
        {
            if (!leaves.Add(sample.Channel, sample.At, sample.Value))
                throw new InvalidOperationException($"The store gave a sample of {sample.At} after a later one.");
        }
    }
}

/// <summary>The event leaves of one day: job runs, service events and alarms in one list, job records in another; both in order.</summary>
internal sealed class DayEvents
{
    private readonly List<EventLeaf> _events = [];
    private readonly List<EventLeaf> _records = [];
    private readonly SortedDictionary<string, long> _counts = new(StringComparer.Ordinal);

    public static readonly DayEvents None = new();

    public IReadOnlyList<EventLeaf> Events => _events;

    public IReadOnlyList<EventLeaf> Records => _records;

    public void Add(string measurement, EventLeaf leaf)
    {
        if (measurement == EventLines.JobRecordName)
        {
            _records.Add(leaf);
            return;
        }

        _events.Add(leaf);
        _counts[measurement] = _counts.GetValueOrDefault(measurement) + 1;
    }

    public void Sort()
    {
        _events.Sort(EventLeaf.Compare);
        _records.Sort(EventLeaf.Compare);
    }

    public SealedTree EventTree() => new(_events.Count, RootOf(_events), new Dictionary<string, long>(_counts));

    public SealedTree RecordTree() => new(
        _records.Count, RootOf(_records), _records.Count == 0 ? [] : new Dictionary<string, long> { [EventLines.JobRecordName] = _records.Count });

    public static Digest[] HashesOf(IReadOnlyList<EventLeaf> leaves) => [.. leaves.Select(leaf => leaf.Hash)];

    /// <summary>All events of a machine, and all job records, by UTC day.</summary>
    /// <param name="from">Included; of job records too.</param>
    /// <param name="to">Not included.</param>
    public static async Task<Dictionary<DateOnly, DayEvents>> ReadAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, CancellationToken stop)
    {
        var days = new Dictionary<DateOnly, DayEvents>();
        var line = new LineFormatter();
        foreach (var run in await store.ReadJobRunsAsync(machine, from, to, stop).ConfigureAwait(false))
            Add(EventLines.JobRunName, run.At, () => EventLines.Write(line, run));
        foreach (var service in await store.ReadServiceEventsAsync(machine, from, to, stop).ConfigureAwait(false))
            Add(EventLines.ServiceName, service.At, () => EventLines.Write(line, service));
        foreach (var alarm in await store.ReadAlarmChangesAsync(machine, from, to, stop).ConfigureAwait(false))
            Add(EventLines.AlarmName, alarm.Time, () => EventLines.Write(line, alarm));
        foreach (var record in await store.ReadJobRecordsAsync(stop).ConfigureAwait(false))
        {
            if (record.RecordedAt >= from && record.RecordedAt < to)
                Add(EventLines.JobRecordName, record.RecordedAt, () => EventLines.Write(line, record));
        }

        foreach (var day in days.Values)
            day.Sort();
        return days;

        void Add(string measurement, Instant at, Action write)
        {
            line.Clear();
            write();
            var day = UtcDay.Of(at);
            if (!days.TryGetValue(day, out var events))
                days.Add(day, events = new DayEvents());
            events.Add(measurement, new EventLeaf(at, line.Written[..^1]));
        }
    }

    private static Digest RootOf(List<EventLeaf> leaves) => MerkleTree.Root(leaves, leaf => leaf.Hash);
}
