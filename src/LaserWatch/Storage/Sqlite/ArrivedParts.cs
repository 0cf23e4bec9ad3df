using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using LaserWatch.Storage.Packing;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Sqlite;

/// <summary>What commits brought of many machines, in memory: of each machine its parts, in the order of the commits.</summary>
/// <remarks>Keeps its room when it is cleared. Not safe for several threads.</remarks>
internal sealed class ArrivedParts
{
    private readonly PackWriter _bodies = new();
    private readonly List<Held> _parts = [];
    private readonly List<Held> _read = [];
    private readonly Dictionary<long, (int First, int Last)> _machines = [];
    private readonly List<long> _sorted = [];
    private long[] _scratch = [];

    /// <summary>How long the bodies are.</summary>
    public int Bytes => _bodies.Length;

    /// <summary>The memory that is in use: small bodies take less than what is noted of them.</summary>
    public long MemoryBytes => _bodies.Length + ((long)_parts.Count * Unsafe.SizeOf<Held>());

    public int MachineCount => _machines.Count;

    public void Clear()
    {
        _bodies.Clear();
        _parts.Clear();
        _machines.Clear();
    }

    /// <summary>Adds the parts of an arrival, which came after all that are here.</summary>
    /// <param name="onlyOf">Adds only those of this machine.</param>
    /// <exception cref="InvalidDataException">The block is damaged; nothing was added.</exception>
    public void Add(ReadOnlySpan<byte> block, long id, long? onlyOf = null)
    {
        var from = ChunkFormat.Open(block, id);
        _read.Clear();
        while (from.Left > 0)
        {
            var part = PackedArrival.Read(ref from, out var body);
            _read.Add(new(part, block.Length - ChunkFormat.CheckBytes - from.Left - body.Length, body.Length, -1));
        }

        foreach (ref readonly var read in CollectionsMarshal.AsSpan(_read))
        {
            if (onlyOf is null || onlyOf == read.Part.MachineId)
                Hold(read with { Begin = _bodies.Length }, block.Slice(read.Begin, read.Length));
        }
    }

    /// <summary>The machines that have parts, in ascending order; good until something is added.</summary>
    public ReadOnlySpan<long> SortMachines()
    {
        _sorted.Clear();
        foreach (var machine in _machines.Keys)
            _sorted.Add(machine);
        _sorted.Sort();
        return CollectionsMarshal.AsSpan(_sorted);
    }

    /// <summary>The first hour of which the machine has a part with a sample at or after the time.</summary>
    public long? NextHour(long machineId, long ts)
    {
        long? found = null;
        for (var i = FirstOf(machineId); i >= 0; i = _parts[i].Next)
        {
            var part = _parts[i].Part;
            if (part.Last >= ts && !(part.Hour >= found))
                found = part.Hour;
        }

        return found;
    }

    /// <summary>What the machine has of the hour, together; null: nothing.</summary>
    /// <param name="bodies">Takes the bodies, one behind the other.</param>
    public ArrivedPart? Gather(long machineId, long hour, PackWriter bodies)
    {
        ArrivedPart? all = null;
        for (var i = FirstOf(machineId); i >= 0; i = _parts[i].Next)
        {
            if (_parts[i].Part.Hour != hour)
                continue;
            all = Together(all, _parts[i].Part);
            bodies.Write(BodyOf(i));
        }

        return all;
    }

    /// <summary>Of all hours of the machine: the first and the last time, and how many samples.</summary>
    public SampleExtent? ExtentOf(long machineId)
    {
        ArrivedPart? all = null;
        for (var i = FirstOf(machineId); i >= 0; i = _parts[i].Next)
            all = Together(all, _parts[i].Part);
        return all is { } whole ? new(new Instant(whole.First), new Instant(whole.Last), whole.Count) : null;
    }

    /// <summary>Adds the samples of the hour to the columns, as <see cref="TailBlocks.Read"/>.</summary>
    /// <exception cref="InvalidDataException">A body is damaged.</exception>
    public void Read(long machineId, long hour, long from, IReadOnlyDictionary<long, SampleColumn> into)
    {
        for (var i = FirstOf(machineId); i >= 0; i = _parts[i].Next)
        {
            if (_parts[i].Part.Hour != hour || _parts[i].Part.Last < from)
                continue;
            var body = new PackReader(BodyOf(i));
            PackedTail.Read(ref body, into, ref _scratch);
        }
    }

    private int FirstOf(long machineId) => _machines.TryGetValue(machineId, out var parts) ? parts.First : -1;

    private ReadOnlySpan<byte> BodyOf(int i) => _bodies.Written.Slice(_parts[i].Begin, _parts[i].Length);

    private void Hold(in Held part, ReadOnlySpan<byte> body)
    {
        var place = _parts.Count;
        _parts.Add(part);
        _bodies.Write(body);
        ref var parts = ref CollectionsMarshal.GetValueRefOrAddDefault(_machines, part.Part.MachineId, out var isKnown);
        if (isKnown)
            CollectionsMarshal.AsSpan(_parts)[parts.Last].Next = place;
        parts = (isKnown ? parts.First : place, place);
    }

    private static ArrivedPart Together(ArrivedPart? some, in ArrivedPart part) => some is { } all
        ? all with { First = Math.Min(all.First, part.First), Last = Math.Max(all.Last, part.Last), Count = all.Count + part.Count }
        : part;

    /// <summary>A part, where its body lies, and the machine's next one; −1: none.</summary>
    private record struct Held(ArrivedPart Part, int Begin, int Length, int Next);
}
