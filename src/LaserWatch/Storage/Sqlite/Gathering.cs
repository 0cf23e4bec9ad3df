using LaserWatch.Storage.Packing;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Writes what a commit brings of many machines as one row, and gathers some such rows into a block a machine and hour.</summary>
/// <remarks>
/// A block of each machine would touch a page of each at every commit, whether it brings a page's worth or two samples. Holds in memory what is not gathered; a store that is opened
/// reads it anew. Wants a transaction around it. Not safe for several threads.
/// </remarks>
internal sealed class Gathering : IDisposable
{
    /// <summary>Gathered when so much of each machine is here: a page of the file has room for it.</summary>
    public const int EnoughOfEach = 3500;

    /// <summary>Gathered when it takes so much memory, however many machines it is of; and a reader looks through it for one machine.</summary>
    public const int MostBytes = 4 << 20;

    /// <summary>Gathered when there are so many rows, however small.</summary>
    public const int MostRows = 256;

    private readonly SqliteConnection _connection;
    private readonly TailWriting _tail;
    private readonly Statement _all;
    private readonly Statement _add;
    private readonly Statement _delete;
    private readonly Statement _seriesOf;
    private readonly Statement _addRow;
    private readonly ArrivedParts _parts = new();
    private readonly List<long> _rows = [];
    private readonly PackWriter _block = new();
    private StoreException? _damage;
    private bool _isKnown;
    private long _lastId;
    private long _first;
    private long _last;
    private long _count;

    public Gathering(SqliteConnection connection, TailWriting tail)
    {
        _connection = connection;
        _tail = tail;
        _all = new Statement(connection, "SELECT id, first, last, block FROM arrival ORDER BY id");
        _add = new Statement(connection, "INSERT INTO arrival (id, first, last, n, block) VALUES (?1, ?2, ?3, ?4, ?5)");
        _delete = new Statement(connection, "DELETE FROM arrival WHERE id = ?1");
        _seriesOf = new Statement(connection, "SELECT s.id FROM series own JOIN series s ON s.machine = own.machine WHERE own.id = ?1");
        _addRow = new Statement(connection, "INSERT INTO sample (series_id, ts, value) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING");
    }

    /// <summary>Whether something is not gathered. Whatever is later must then come the same way, so that a machine's blocks stay in order.</summary>
    public bool HoldsSome => _rows.Count > 0;

    /// <summary>To be called at the begin of each transaction: reads what a former one left, where that is not known.</summary>
    public void Begin()
    {
        if (_isKnown)
            return;
        _parts.Clear();
        _rows.Clear();
        _damage = null;
        _lastId = 0;
        while (_all.Step())
        {
            _lastId = _all.Int64(0);
            try
            {
                _parts.Add(_all.Bytes(3), _lastId);
                _rows.Add(_lastId);
            }
            catch (InvalidDataException e)
            {
                // It stays where it is, and must not hold up what comes after it.
                _damage ??= Arrivals.DamageOf(_connection, _all.Int64(1), _all.Int64(2), e);
            }
        }

        _isKnown = true;
    }

    /// <summary>Forgets all that it knows of the file.</summary>
    public void Forget() => _isKnown = false;

    /// <summary>No part of the machine has a sample after it.</summary>
    public long? Until(long machineId) => _parts.ExtentOf(machineId)?.Last.UnixNanoseconds;

    /// <summary>Adds the samples of the hour that are not gathered to the columns, as <see cref="TailBlocks.Read"/>.</summary>
    /// <exception cref="InvalidDataException">A body is damaged.</exception>
    public void Read(long machineId, long hour, long from, IReadOnlyDictionary<long, SampleColumn> into) => _parts.Read(machineId, hour, from, into);

    /// <summary>Begins a row.</summary>
    public void BeginRow()
    {
        ChunkFormat.Begin(_block);
        (_first, _last, _count) = (long.MaxValue, long.MinValue, 0);
    }

    /// <summary>Adds a part to the row: of each series later than all before.</summary>
    /// <param name="body">As <see cref="PackedTail"/> writes it.</param>
    public void Add(in ArrivedPart part, ReadOnlySpan<byte> body)
    {
        PackedArrival.Write(_block, part, body);
        (_first, _last, _count) = (Math.Min(_first, part.First), Math.Max(_last, part.Last), _count + part.Count);
    }

    /// <summary>Writes the row; or gathers it with those before, where that is enough.</summary>
    public void EndRow()
    {
        var id = _lastId + 1;
        ChunkFormat.End(_block, id);
        _parts.Add(_block.Written, id);
        if (_rows.Count + 1 >= MostRows || _parts.Bytes >= (long)EnoughOfEach * _parts.MachineCount || _parts.MemoryBytes >= MostBytes)
        {
            Gather();
            return;
        }

        _add.Bind(1, id).Bind(2, _first).Bind(3, _last).Bind(4, _count).Bind(5, _block.Written).Run();
        _rows.Add(id);
        _lastId = id;
    }

    /// <summary>Moves all that is here to blocks of each machine and hour; what is damaged stays, and is returned.</summary>
    public StoreException? Gather()
    {
        foreach (var machineId in _parts.SortMachines())
        {
            for (var hour = _parts.NextHour(machineId, long.MinValue); hour is { } one; hour = NextHour(machineId, one))
            {
                if (_parts.Gather(machineId, one, _tail.Begin()) is { } all && !_tail.TryEnd(all))
                    WriteRows(machineId, one);
            }
        }

        foreach (var id in _rows)
            _delete.Bind(1, id).Run();
        _parts.Clear();
        _rows.Clear();
        return _damage;
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _all, _add, _delete, _seriesOf, _addRow })
            statement.Dispose();
    }

    private long? NextHour(long machineId, long hour) =>
        TimeGrid.LastOfHour(hour) is var last && last < long.MaxValue ? _parts.NextHour(machineId, last + 1) : null;

    private void WriteRows(long machineId, long hour)
    {
        var columns = new Dictionary<long, SampleColumn>();
        _seriesOf.Bind(1, machineId);
        while (_seriesOf.Step())
            columns.Add(_seriesOf.Int64(0), new SampleColumn());
        _parts.Read(machineId, hour, long.MinValue, columns);
        foreach (var (seriesId, column) in columns)
        {
            for (var i = column.Begin; i < column.End; i++)
                _addRow.Bind(1, seriesId).Bind(2, column.Times[i]).Bind(3, column.Values[i]).Run();
        }
    }
}
