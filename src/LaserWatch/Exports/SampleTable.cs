using System.Runtime.CompilerServices;
using LaserWatch.Jobs;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Exports;

/// <summary>A machine's samples as a table: one row an instant, one column a channel, and the job under way.</summary>
internal sealed class SampleTable
{
    private const int RowsAtOnce = 1 << 16;

    /// <summary>How far back a run may have started that is still under way at the beginning.</summary>
    private static readonly TimeSpan LongestRun = TimeSpan.FromDays(2);

    private readonly ITelemetryStore _store;
    private readonly string _machine;
    private readonly Instant _from;
    private readonly Instant _to;
    private readonly ChannelTable _table;
    private readonly IReadOnlyList<JobEvent> _runs;

    private SampleTable(
        ITelemetryStore store, string machine, Instant from, Instant to, ChannelTable table, IReadOnlyList<Channel> channels, IReadOnlyList<JobEvent> runs) =>
        (_store, _machine, _from, _to, _table, Channels, _runs) = (store, machine, from, to, table, channels, runs);

    /// <summary>The columns: every channel that the machine ever had, in the order of <see cref="Channel.Index"/>.</summary>
    public IReadOnlyList<Channel> Channels { get; }

    /// <param name="from">Included.</param>
    /// <param name="to">Not included.</param>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public static async Task<SampleTable> OpenAsync(ITelemetryStore store, string machine, Instant from, Instant to, CancellationToken stop)
    {
        var table = new ChannelTable();
        var channels = await store.ReadChannelsAsync(machine, table, stop).ConfigureAwait(false);
        var runs = await store.ReadJobRunsAsync(machine, from - LongestRun, to, stop).ConfigureAwait(false);
        return new SampleTable(store, machine, from, to, table, channels, runs);
    }

    /// <summary>The rows in time order, some at a time.</summary>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public async IAsyncEnumerable<SampleRows> ReadAsync([EnumeratorCancellation] CancellationToken stop)
    {
        var rows = new SampleRows(Channels, RowsAtOnce);
        var places = new Dictionary<Channel, int>();
        for (var i = 0; i < Channels.Count; i++)
            places.Add(Channels[i], i);
        var (next, job) = (0, (string?)null);
        Instant? at = null;
        await foreach (var block in _store.ReadSampleBlocksAsync(_machine, Channels, _from, _to, _table, stop).ConfigureAwait(false))
        {
            for (var i = 0; i < block.Length; i++)
            {
                var sample = block.Span[i];
                if (sample.At != at)
                {
                    if (rows.IsFull)
                    {
                        yield return rows;
                        rows.Clear();
                    }

                    at = sample.At;
                    for (; next < _runs.Count && _runs[next].At <= sample.At; next++)
                        job = _runs[next].Kind == JobEventKind.Start ? _runs[next].Job : null;
                    rows.Add(sample.At, job);
                }

                rows.Set(places[sample.Channel], sample.Value);
            }
        }

        if (rows.Count > 0)
            yield return rows;
    }
}
