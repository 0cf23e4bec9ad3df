using LaserWatch.Storage.Packing;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Writes blocks of the table <c>tail</c>, numbered by machine and hour in the order of writing.</summary>
/// <remarks>Remembers the number of each machine's newest. Wants a transaction around it. Not safe for several threads.</remarks>
internal sealed class TailWriting(SqliteConnection connection, TailBlocks tail) : IDisposable
{
    private readonly Statement _add = new(connection, "INSERT INTO tail (id, first, last, n, block) VALUES (?1, ?2, ?3, ?4, ?5)");
    private readonly Dictionary<long, (long Hour, long Next)> _numbers = [];
    private readonly PackWriter _block = new();

    /// <summary>Begins a block; what is written to it next is its bodies.</summary>
    public PackWriter Begin()
    {
        ChunkFormat.Begin(_block);
        return _block;
    }

    /// <summary>Writes the block that was begun; false where the numbers of the hour are used up.</summary>
    /// <param name="content">What stands in its bodies.</param>
    public bool TryEnd(in ArrivedPart content)
    {
        var (machineId, hour) = (content.MachineId, content.Hour);
        if (!_numbers.TryGetValue(machineId, out var number) || number.Hour != hour)
            number = (hour, tail.NewestOf(machineId, hour) is { } newest ? newest + 1 : BlockKey.OfTail(machineId, hour));
        _numbers[machineId] = number;
        var id = number.Next;
        if (BlockKey.HourOfTail(id) != hour)
            return false;
        ChunkFormat.End(_block, id);
        _add.Bind(1, id).Bind(2, content.First).Bind(3, content.Last).Bind(4, content.Count).Bind(5, _block.Written).Run();
        _numbers[machineId] = (hour, id + 1);
        return true;
    }

    /// <summary>Forgets all that it knows of the file.</summary>
    public void Forget() => _numbers.Clear();

    public void Dispose() => _add.Dispose();
}
