using LaserWatch.Storage;

namespace LaserWatch.Pipeline;

/// <summary>What a full writer refused and must not be lost: messages that a broker waits to see acknowledged, events and alarms.</summary>
/// <remarks>
/// While the store fails for long, samples at QoS 0 fill the writer and are lost, which it records. A message with an
/// acknowledgement cannot be dropped like that: the ones behind it are acknowledged in order, so nothing would come any more.
/// There are never more of them than the broker sends ahead.
/// </remarks>
public sealed class HeldEntries
{
    /// <summary>More than any broker's window; reached only by alarms of a long outage.</summary>
    public const int Most = 100_000;

    private readonly Queue<(StoreBatch Entry, Action? Acknowledge)> _held = new();

    public int Count => _held.Count;

    public void Pass(SampleWriter writer, StoreBatch entry, Action? acknowledge)
    {
        if (writer.TryEnqueue(entry, acknowledge) || _held.Count >= Most)
            return;
        if (acknowledge is not null || entry.JobRuns.Count + entry.ServiceEvents.Count + entry.AlarmChanges.Count > 0)
            _held.Enqueue((Copy(entry), acknowledge));
    }

    public void TryAgain(SampleWriter writer)
    {
        while (_held.TryPeek(out var first) && writer.TryEnqueue(first.Entry, first.Acknowledge))
            _held.Dequeue();
    }

    // Without the state of the watch: a newer one may have been stored by the time this is.
    private static StoreBatch Copy(StoreBatch entry)
    {
        var copy = new StoreBatch();
        copy.Samples.AddRange(entry.Samples);
        copy.JobRuns.AddRange(entry.JobRuns);
        copy.ServiceEvents.AddRange(entry.ServiceEvents);
        copy.AlarmChanges.AddRange(entry.AlarmChanges);
        copy.Deliveries.AddRange(entry.Deliveries);
        return copy;
    }
}
