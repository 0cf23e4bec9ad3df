using System.Runtime.CompilerServices;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

/// <summary>Ways of reading that every store has alike.</summary>
public static class StoreReading
{
    /// <summary>As <see cref="ITelemetryStore.ReadSampleBlocksAsync"/>, one by one.</summary>
    public static async IAsyncEnumerable<Sample> ReadSamplesAsync(
        this ITelemetryStore store, string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table,
        [EnumeratorCancellation] CancellationToken stop)
    {
        await foreach (var block in store.ReadSampleBlocksAsync(machine, channels, from, to, table, stop).ConfigureAwait(false))
        {
            for (var i = 0; i < block.Length; i++)
                yield return block.Span[i];
        }
    }
}
