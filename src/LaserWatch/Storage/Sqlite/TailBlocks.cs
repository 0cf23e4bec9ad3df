using LaserWatch.Storage.Packing;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Reads the blocks of each machine in which the samples of commits stand until the hour is packed; see <see cref="LiveBlocks"/> for what is not gathered yet.</summary>
/// <remarks>
/// A machine is known here by the first of its series, whose number never changes. Wants a transaction around what must be of one state of the
/// file. Not safe for several threads.
/// </remarks>
internal sealed class TailBlocks : IDisposable
{
    private readonly SqliteConnection _connection;
    private readonly Statement _machineOf;
    private readonly Statement _next;
    private readonly Statement _newest;
    private readonly Statement _until;
    private readonly Statement _extent;
    private readonly Statement _read;
    private long[] _scratch = new long[256];

    public TailBlocks(SqliteConnection connection)
    {
        _connection = connection;
        _machineOf = new Statement(connection, "SELECT min(s.id) FROM series own JOIN series s ON s.machine = own.machine WHERE own.id = ?1");
        _next = new Statement(connection, "SELECT id FROM tail WHERE id >= ?1 AND id < ?2 AND last >= ?3 ORDER BY id LIMIT 1");
        _newest = new Statement(connection, "SELECT max(id) FROM tail WHERE id >= ?1 AND id < ?2");
        _until = new Statement(connection, "SELECT max(last) FROM tail WHERE id >= ?1 AND id < ?2");
        _extent = new Statement(connection, "SELECT min(first), max(last), sum(n) FROM tail WHERE id >= ?1 AND id < ?2");
        _read = new Statement(connection, "SELECT id, block FROM tail WHERE id >= ?1 AND id < ?2 AND last >= ?3 ORDER BY id");
    }

    /// <summary>The number by which a series' machine is known here.</summary>
    public long MachineOf(long seriesId) => _machineOf.Bind(1, seriesId).RunForInt64() ?? seriesId;

    /// <summary>The first hour that has a block with a sample at or after the time.</summary>
    public long? NextHour(long machineId, long ts) =>
        _next.Bind(1, BlockKey.OfTail(machineId, TimeGrid.HourOf(new Instant(ts)))).Bind(2, BlockKey.EndOfTail(machineId)).Bind(3, ts).RunForInt64() is { } id
            ? BlockKey.HourOfTail(id)
            : null;

    /// <summary>No block of the machine has a sample after it.</summary>
    public long? Until(long machineId)
    {
        var end = BlockKey.EndOfTail(machineId);
        return _newest.Bind(1, BlockKey.OfTail(machineId, TimeGrid.HourOf(Instant.MinValue))).Bind(2, end).RunForInt64() is { } id
            ? _until.Bind(1, BlockKey.OfTail(machineId, BlockKey.HourOfTail(id))).Bind(2, end).RunForInt64()
            : null;
    }

    /// <summary>The number of the hour's newest block.</summary>
    public long? NewestOf(long machineId, long hour)
    {
        var first = BlockKey.OfTail(machineId, hour);
        return _newest.Bind(1, first).Bind(2, first + BlockKey.TailRoom).RunForInt64();
    }

    public SampleExtent? ExtentOf(long machineId)
    {
        _extent.Bind(1, BlockKey.OfTail(machineId, TimeGrid.HourOf(Instant.MinValue))).Bind(2, BlockKey.EndOfTail(machineId)).Step();
        SampleExtent? extent = _extent.IsNull(0) ? null : new(new Instant(_extent.Int64(0)), new Instant(_extent.Int64(1)), _extent.Int64(2));
        _extent.Reset();
        return extent;
    }

    /// <summary>Adds the samples of the hour to the columns, those of the series that have one; whole blocks, but none that ends before <paramref name="from"/>.</summary>
    /// <exception cref="StoreException">A block is damaged; the message names machine and hour.</exception>
    public void Read(long machineId, long hour, long from, IReadOnlyDictionary<long, SampleColumn> into)
    {
        var first = BlockKey.OfTail(machineId, hour);
        _read.Bind(1, first).Bind(2, first + BlockKey.TailRoom).Bind(3, from);
        try
        {
            while (_read.Step())
            {
                var block = ChunkFormat.Open(_read.Bytes(1), _read.Int64(0));
                do
                    PackedTail.Read(ref block, into, ref _scratch);
                while (block.Left > 0);
            }
        }
        catch (Exception e) when (e is InvalidDataException or OverflowException)
        {
            throw new StoreException(
                $"The newest samples of {MachineName(machineId)} in the hour from {TimeGrid.StartOfMinute(hour * TimeGrid.MinutesPerHour)} are damaged in {_connection.DataSource}: "
                + $"{e.Message}; put a copy of the file in its place, or read the times before and after it.", e);
        }
        finally
        {
            _read.Reset();
        }
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _machineOf, _next, _newest, _until, _extent, _read })
            statement.Dispose();
    }

    private string MachineName(long machineId)
    {
        using var series = new Statement(_connection, "SELECT machine FROM series WHERE id = ?1");
        return series.Bind(1, machineId).Step() ? series.Text(0) : "?";
    }
}
