using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Reads all blocks of hours that are not packed: those of each machine, and after them what was not gathered yet.</summary>
/// <remarks>
/// For connections that only read. A machine is known here by the first of its series. Wants a transaction around what must be of one state of the file. Not safe for several threads.
/// </remarks>
internal sealed class LiveBlocks(SqliteConnection connection) : IDisposable
{
    private readonly TailBlocks _tail = new(connection);
    private readonly Arrivals _arrivals = new(connection);

    /// <summary>The number by which a series' machine is known here.</summary>
    public long MachineOf(long seriesId) => _tail.MachineOf(seriesId);

    /// <summary>The first hour that has a block with a sample at or after the time.</summary>
    public long? NextHour(long machineId, long ts)
    {
        var (gathered, arrived) = (_tail.NextHour(machineId, ts), _arrivals.NextHour(machineId, ts));
        return gathered < arrived ? gathered : arrived ?? gathered;
    }

    /// <exception cref="StoreException">What was not gathered yet is damaged; the message names the times.</exception>
    public SampleExtent? ExtentOf(long machineId)
    {
        if (_arrivals.ExtentOf(machineId) is not { } arrived)
            return _tail.ExtentOf(machineId);
        return _tail.ExtentOf(machineId) is { } gathered
            ? new(Earlier(gathered.First, arrived.First), Later(gathered.Last, arrived.Last), gathered.Count + arrived.Count)
            : arrived;
    }

    /// <summary>Adds the samples of the hour to the columns, those of the series that have one; whole blocks, but none that ends before <paramref name="from"/>.</summary>
    /// <exception cref="StoreException">A block is damaged; the message names machine and hour, or the times.</exception>
    public void Read(long machineId, long hour, long from, IReadOnlyDictionary<long, SampleColumn> into)
    {
        _tail.Read(machineId, hour, from, into);
        _arrivals.Read(machineId, hour, from, into);
    }

    public void Dispose()
    {
        _tail.Dispose();
        _arrivals.Dispose();
    }

    private static Instant Earlier(Instant a, Instant b) => a < b ? a : b;

    private static Instant Later(Instant a, Instant b) => a > b ? a : b;
}
