using LaserWatch.Jobs;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>How far the proof of a recording goes.</summary>
/// <param name="Days">Sealed days that it covers.</param>
/// <param name="Differing">Days that are no longer what was sealed: verify will fail on them.</param>
/// <param name="LogSize">Entries of the log; 0 where there is none.</param>
public sealed record ProofExtent(int Days, IReadOnlyList<DateOnly> Differing, int LogSize)
{
    public static readonly ProofExtent None = new(0, [], 0);
}

/// <summary>Writes the proof of the sealed days that a recording has, whole or in part.</summary>
/// <remarks>
/// A day in part is covered by whole minutes: what of a minute, or of the day's events, lies outside the recording's time is written
/// as rest lines. Reads every covered day of the store once more, for the hashes.
/// </remarks>
internal sealed class RecordingProof(ITelemetryStore store, LogContent log, Instant from, Instant to, JobEvent? underWay)
{
    private readonly string _machine = log.Machine;
    private readonly ChannelTable _table = new();
    private readonly SampleLeaves _leaves = new(log.Machine);
    private readonly ProofWriter _writer = new();
    private readonly LineFormatter _line = new();
    private readonly List<DateOnly> _differing = [];
    private int _days;

    /// <summary>Writes nothing where the log has no signed entry.</summary>
    public static async Task<ProofExtent> WriteAsync(
        ITelemetryStore store, EvidenceFolder folder, string machine, Instant from, Instant to, JobEvent? underWay, Stream output, CancellationToken stop)
    {
        var log = EvidenceLog.Read(folder, machine).Content;
        if (log.Head is null)
            return ProofExtent.None;
        return await new RecordingProof(store, log, from, to, underWay).WriteAsync(output, stop).ConfigureAwait(false);
    }

    private async Task<ProofExtent> WriteAsync(Stream output, CancellationToken stop)
    {
        _writer.Begin(_machine, ProofContents.Recording);
        var events = await DayEvents.ReadAsync(store, _machine, Instant.MinValue, Instant.MaxValue, stop).ConfigureAwait(false);
        foreach (var entry in log.Newest.Values.OrderBy(entry => entry.Day))
        {
            if (Concerns(entry))
            {
                await WriteDayAsync(entry, events.GetValueOrDefault(entry.Day) ?? DayEvents.None, stop).ConfigureAwait(false);
                await output.WriteAsync(_writer.Take(), stop).ConfigureAwait(false);
            }
        }

        _writer.LogAndEnd(log);
        await output.WriteAsync(_writer.Take(), stop).ConfigureAwait(false);
        return new ProofExtent(_days, _differing, log.Entries.Count);
    }

    private bool Overlaps(DateOnly day) => UtcDay.Start(day) < to && UtcDay.End(day) > from;

    /// <remarks>A recording begins with all job records up to its end, and with the run that was under way.</remarks>
    private bool Concerns(DayEntry entry) => Overlaps(entry.Day)
        || (UtcDay.Start(entry.Day) < to && (entry.Records.Leaves > 0 || (underWay is not null && UtcDay.Of(underWay.At) == entry.Day)));

    private async Task WriteDayAsync(DayEntry entry, DayEvents events, CancellationToken stop)
    {
        var list = new LeafList();
        var samples = ProofRange.None;
        if (Overlaps(entry.Day))
        {
            await StoredDay.ReadSamplesAsync(store, _machine, entry.Day, _table, _leaves, stop).ConfigureAwait(false);
            samples = CoverSamples(list);
            if (_leaves.Leaves.Count > 0 && MerkleTree.Root(_leaves.Leaves, leaf => leaf.Hash) != entry.Samples.Root)
                _differing.Add(entry.Day);
        }

        var (first, last) = CoveredEvents(entry.Day, events.Events);
        foreach (var leaf in events.Events.Take(last).Skip(first))
            list.Events.Add(new ListedEvent(leaf.At, LeafList.HashStart(leaf.Hash)));
        foreach (var leaf in events.Records)
            list.Records.Add(new ListedEvent(leaf.At, LeafList.HashStart(leaf.Hash)));
        if ((last > first && events.EventTree().Root != entry.Events.Root) || events.RecordTree().Root != entry.Records.Root)
            _differing.Add(entry.Day);
        _writer.Day(
            entry, samples, ProofRange.Of(DayEvents.HashesOf(events.Events), first, last),
            ProofRange.Of(DayEvents.HashesOf(events.Records), 0, events.Records.Count), list);
        if (samples.Count > 0)
            await WriteRestSamplesAsync(entry.Day, stop).ConfigureAwait(false);
        WriteRestEvents(entry.Day, events);
        _days++;
    }

    private ProofRange CoverSamples(LeafList list)
    {
        var leaves = _leaves.Leaves;
        var first = 0;
        while (first < leaves.Count && TimeGrid.StartOfMinute(leaves[first].Minute + 1) <= from)
            first++;
        var last = leaves.Count;
        while (last > first && TimeGrid.StartOfMinute(leaves[last - 1].Minute) >= to)
            last--;
        for (var i = first; i < last; i++)
            list.Samples.Add(new ListedSamples(leaves[i].Minute, leaves[i].Channel.Name, LeafList.CountOf(leaves[i].Count), LeafList.HashStart(leaves[i].Hash)));
        return ProofRange.Of(StoredDay.HashesOf(leaves), first, last);
    }

    /// <summary>All events of a day that the recording touches; of another only the run that was under way.</summary>
    private (int First, int Last) CoveredEvents(DateOnly day, IReadOnlyList<EventLeaf> events)
    {
        if (Overlaps(day))
            return (0, events.Count);
        if (underWay is null || UtcDay.Of(underWay.At) != day)
            return (0, 0);
        EventLines.Write(_line, underWay);
        var line = _line.Written[..^1].ToArray();
        _line.Clear();
        var place = events.ToList().FindIndex(leaf => leaf.Line.SequenceEqual(line));
        return place < 0 ? (0, 0) : (place, place + 1);
    }

    /// <summary>Of the minutes that the recording's bounds cut, what lies outside.</summary>
    private async Task WriteRestSamplesAsync(DateOnly day, CancellationToken stop)
    {
        var (begin, end) = (TimeGrid.StartOfMinute(TimeGrid.MinuteOf(from)), TimeGrid.StartOfMinute(TimeGrid.MinuteOf(to)));
        if (begin < from && UtcDay.Of(from) == day)
            await WriteRestSamplesAsync(begin, from, stop).ConfigureAwait(false);
        if (end < to && UtcDay.Of(to) == day)
            await WriteRestSamplesAsync(to, TimeGrid.StartOfMinute(TimeGrid.MinuteOf(to) + 1), stop).ConfigureAwait(false);
    }

    private async Task WriteRestSamplesAsync(Instant begin, Instant end, CancellationToken stop)
    {
        // A minute cut at both ends is met twice; each half is another.
        await foreach (var sample in store.ReadSamplesAsync(_machine, null, begin, end, _table, stop).ConfigureAwait(false))
        {
            _line.Measurement(EventLines.Telemetry).Tag("machine", _machine).Field(sample.Channel.Name, sample.Value).Time(sample.At);
            _writer.Rest(_line.Written[..^1]);
            _line.Clear();
        }
    }

    private void WriteRestEvents(DateOnly day, DayEvents events)
    {
        if (Overlaps(day))
        {
            var isRepeated = underWay is not null && UtcDay.Of(underWay.At) == day;
            foreach (var leaf in events.Events.Where(leaf => leaf.At < from || leaf.At >= to))
            {
                if (isRepeated && IsUnderWay(leaf))
                    isRepeated = false;
                else
                    _writer.Rest(leaf.Line);
            }
        }

        foreach (var leaf in events.Records.Where(leaf => leaf.At >= to))
            _writer.Rest(leaf.Line);
    }

    private bool IsUnderWay(EventLeaf leaf)
    {
        if (leaf.At != underWay!.At)
            return false;
        EventLines.Write(_line, underWay);
        var same = leaf.Line.SequenceEqual(_line.Written[..^1]);
        _line.Clear();
        return same;
    }
}
