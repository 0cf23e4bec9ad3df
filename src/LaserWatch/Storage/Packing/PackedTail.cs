using System.Buffers.Binary;
using System.Runtime.InteropServices;

namespace LaserWatch.Storage.Packing;

/// <summary>Samples of several series of one machine, as they were committed together. The format stands in <see cref="ChunkFormat"/>.</summary>
/// <remarks>Made for writing it many times a second, not for size: an hour of such blocks is packed as soon as it is over.</remarks>
internal static class PackedTail
{
    private const byte SameTimes = 1;
    private const byte Constant = 2;

    private static readonly bool IsAsStored = BitConverter.IsLittleEndian;

    /// <param name="parts">Where in the two rows each series stands: not empty, its times strictly ascending, within an hour.</param>
    public static void Write(PackWriter to, ReadOnlySpan<TailPart> parts, ReadOnlySpan<long> times, ReadOnlySpan<double> values)
    {
        var unit = UnitOf(parts, times);
        var step = PackedTimes.Units[unit];
        to.WriteByte((byte)unit);
        to.WriteNumber((ulong)parts.Length);
        var before = ReadOnlySpan<long>.Empty;
        long firstBefore = 0;
        foreach (ref readonly var part in parts)
        {
            var own = times.Slice(part.Begin, part.Count);
            var isSame = own.SequenceEqual(before);
            var isConstant = PackedValues.IsConstant(values.Slice(part.Begin, part.Count));
            to.WriteNumber((ulong)part.SeriesId);
            to.WriteByte((byte)((isSame ? SameTimes : 0) | (isConstant ? Constant : 0)));
            if (!isSame)
            {
                WriteTimes(to, own, step, firstBefore);
                before = own;
                firstBefore = own[0] / step;
            }

            WriteValues(to, values.Slice(part.Begin, isConstant ? 1 : part.Count));
        }
    }

    /// <summary>Adds the samples of the series that have a column.</summary>
    /// <exception cref="InvalidDataException">The bytes are damaged.</exception>
    public static void Read(ref PackReader from, IReadOnlyDictionary<long, SampleColumn> into, ref long[] scratch)
    {
        var unit = from.ReadByte();
        if (unit >= PackedTimes.Units.Length)
            throw new InvalidDataException("the times of the packed block are in an unknown unit");
        var step = PackedTimes.Units[unit];
        var count = 0;
        long firstBefore = 0;
        for (var left = from.ReadCount(); left > 0; left--)
        {
            var id = (long)from.ReadNumber();
            var head = from.ReadByte();
            if ((head & SameTimes) == 0)
                count = ReadTimes(ref from, ref scratch, step, ref firstBefore);
            else if (count == 0)
                throw new InvalidDataException("the packed block refers to times it does not have");
            var isConstant = (head & Constant) != 0;
            var bytes = from.Read(checked((isConstant ? 1 : count) * sizeof(double)));
            if (!into.TryGetValue(id, out var column))
                continue;
            var room = column.AddRoom(scratch.AsSpan(0, count));
            if (isConstant)
                room.Fill(BinaryPrimitives.ReadDoubleLittleEndian(bytes));
            else
                ReadValues(bytes, room);
        }
    }

    /// <summary>One for the whole block; times that are the same are looked at once.</summary>
    private static int UnitOf(ReadOnlySpan<TailPart> parts, ReadOnlySpan<long> times)
    {
        var unit = PackedTimes.Units.Length - 1;
        var before = ReadOnlySpan<long>.Empty;
        foreach (ref readonly var part in parts)
        {
            var own = times.Slice(part.Begin, part.Count);
            if (!own.SequenceEqual(before))
                unit = Math.Min(unit, PackedTimes.UnitOf(own));
            before = own;
        }

        return unit;
    }

    private static void WriteTimes(PackWriter to, ReadOnlySpan<long> times, long step, long firstBefore)
    {
        to.WriteNumber((ulong)times.Length);
        var last = times[0] / step;
        to.WriteSigned(last - firstBefore);
        foreach (var time in times[1..])
        {
            var tick = step == 1 ? time : time / step;
            to.WriteNumber((ulong)(tick - last));
            last = tick;
        }
    }

    private static int ReadTimes(ref PackReader from, ref long[] times, long step, ref long firstBefore)
    {
        var count = from.ReadCount();
        if (count == 0)
            throw new InvalidDataException("the packed block has a series without samples");
        if (count > from.Left)
            throw new InvalidDataException("the packed block ends too soon");
        if (times.Length < count)
            times = new long[Math.Max(count, 2 * times.Length)];
        var tick = firstBefore += from.ReadSigned();
        times[0] = tick * step;
        for (var i = 1; i < count; i++)
            times[i] = (tick += (long)from.ReadNumber()) * step;
        return count;
    }

    private static void WriteValues(PackWriter to, ReadOnlySpan<double> values)
    {
        if (IsAsStored)
        {
            to.Write(MemoryMarshal.AsBytes(values));
            return;
        }

        Span<byte> bytes = stackalloc byte[sizeof(double)];
        foreach (var value in values)
        {
            BinaryPrimitives.WriteDoubleLittleEndian(bytes, value);
            to.Write(bytes);
        }
    }

    private static void ReadValues(ReadOnlySpan<byte> bytes, Span<double> values)
    {
        if (IsAsStored)
        {
            bytes.CopyTo(MemoryMarshal.AsBytes(values));
            return;
        }

        for (var i = 0; i < values.Length; i++)
            values[i] = BinaryPrimitives.ReadDoubleLittleEndian(bytes[(i * sizeof(double))..]);
    }
}

/// <summary>A series' samples within rows of times and values.</summary>
internal readonly record struct TailPart(long SeriesId, int Begin, int Count);
