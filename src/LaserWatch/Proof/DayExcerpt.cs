using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>One whole minute of a sealed day, and the proof that it is part of it.</summary>
internal sealed class DayExcerpt(string machine, DayEntry entry)
{
    private readonly SampleLeaves _leaves = new(machine);
    private readonly List<Sample> _minute = [];
    private long _picked;

    /// <summary>Reads the day; false where the store no longer holds it as it was sealed.</summary>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public async Task<bool> ReadAsync(ITelemetryStore store, CancellationToken stop)
    {
        var table = new ChannelTable();
        await StoredDay.ReadSamplesAsync(store, machine, entry.Day, table, _leaves, stop).ConfigureAwait(false);
        if (_leaves.Leaves.Count == 0 || MerkleTree.Root(_leaves.Leaves, leaf => leaf.Hash) != entry.Samples.Root)
            return false;
        var witness = new WitnessMinute();
        await foreach (var block in store.ReadSampleBlocksAsync(
            machine, [Channel.TubeCurrent, Channel.Power, Channel.Lasing], UtcDay.Start(entry.Day), UtcDay.End(entry.Day), table, stop).ConfigureAwait(false))
        {
            for (var i = 0; i < block.Length; i++)
                witness.Take(block.Span[i]);
        }

        _picked = witness.Pick() ?? _leaves.Leaves[0].Minute;
        await foreach (var sample in store.ReadSamplesAsync(
            machine, null, TimeGrid.StartOfMinute(_picked), TimeGrid.StartOfMinute(_picked + 1), table, stop).ConfigureAwait(false))
            _minute.Add(sample);
        return true;
    }

    /// <summary>Writes the samples, those of one instant on one line, and the proof.</summary>
    public void Write(LineFormatter lines, ProofWriter proof)
    {
        for (var i = 0; i < _minute.Count;)
        {
            var at = _minute[i].At;
            lines.Measurement(EventLines.Telemetry).Tag("machine", machine);
            for (; i < _minute.Count && _minute[i].At == at; i++)
                lines.Field(_minute[i].Channel.Name, _minute[i].Value);
            lines.Time(at);
        }

        var leaves = _leaves.Leaves;
        var first = 0;
        while (leaves[first].Minute < _picked)
            first++;
        var last = first;
        var list = new LeafList();
        for (; last < leaves.Count && leaves[last].Minute == _picked; last++)
            list.Samples.Add(new ListedSamples(leaves[last].Minute, leaves[last].Channel.Name, LeafList.CountOf(leaves[last].Count), LeafList.HashStart(leaves[last].Hash)));
        proof.Day(entry, ProofRange.Of(StoredDay.HashesOf(leaves), first, last), ProofRange.None, ProofRange.None, list);
    }
}
