using System.Buffers;

namespace LaserWatch.Storage.Packing;

/// <summary>Ascending times, in nanoseconds. The format stands in <see cref="ChunkFormat"/>.</summary>
internal static class PackedTimes
{
    private const int Regular = 0;
    private const int Plain = 1;
    private const int Jittered = 2;
    private const int UnitShift = 2;

    // Below it the period would cost more than it saves.
    private const int LeastForPeriod = 8;

    // The place of the clock's next tick is kept in sixteenths of a unit, and moves by an eighth of each miss.
    private const int PlaceBits = 4;
    private const int FollowBits = 3;

    /// <summary>Nanoseconds each, ascending.</summary>
    private static readonly long[] Units = [1, 1_000, 1_000_000, 1_000_000_000];

    /// <param name="times">Strictly ascending, within a few hours or days: their differences must not overflow.</param>
    public static void Write(PackWriter to, ReadOnlySpan<long> times)
    {
        to.WriteNumber((ulong)times.Length);
        if (times.IsEmpty)
            return;
        var unit = UnitOf(times);
        var first = times[0] / Units[unit];
        var after = ArrayPool<long>.Shared.Rent(times.Length);
        try
        {
            var ticks = after.AsSpan(0, times.Length);
            for (var i = 0; i < times.Length; i++)
                ticks[i] = (times[i] / Units[unit]) - first;
            if (StepOf(ticks) is { } step)
            {
                Begin(to, Regular, unit, first);
                to.WriteNumber((ulong)step);
                return;
            }

            WriteSmaller(to, ticks, unit, first);
        }
        finally
        {
            ArrayPool<long>.Shared.Return(after);
        }
    }

    /// <summary>The number of times that the block begins with; <see cref="Read"/> fills as many.</summary>
    /// <exception cref="InvalidDataException">The bytes are damaged.</exception>
    public static int ReadCount(ref PackReader from) => from.ReadCount();

    /// <exception cref="InvalidDataException">The bytes are damaged.</exception>
    public static void Read(ref PackReader from, Span<long> times)
    {
        if (times.IsEmpty)
            return;
        var head = from.ReadByte();
        var unit = Units[(head >> UnitShift) & 3];
        var first = from.ReadSigned();
        switch (head & 3)
        {
            case Regular:
                var step = (long)from.ReadNumber();
                for (var i = 0; i < times.Length; i++)
                    times[i] = (first + (i * step)) * unit;
                return;
            case Plain:
                PackedIntegers.Read(ref from, times);
                break;
            case Jittered:
                ReadJittered(ref from, times);
                break;
            default:
                throw new InvalidDataException("the packed times are of an unknown kind");
        }

        for (var i = 0; i < times.Length; i++)
            times[i] = (first + times[i]) * unit;
    }

    private static void WriteSmaller(PackWriter to, ReadOnlySpan<long> ticks, int unit, long first)
    {
        var begin = new PackWriter();
        Begin(begin, Plain, unit, first);
        PackedIntegers.Write(begin, ticks);
        if (ticks.Length >= LeastForPeriod)
        {
            var jittered = new PackWriter();
            Begin(jittered, Jittered, unit, first);
            WriteJittered(jittered, ticks);
            if (jittered.Length < begin.Length)
                begin = jittered;
        }

        to.Write(begin.Written);
    }

    private static void Begin(PackWriter to, int kind, int unit, long first)
    {
        to.WriteByte((byte)(kind | (unit << UnitShift)));
        to.WriteSigned(first);
    }

    /// <summary>The largest unit that all are whole ones of.</summary>
    private static int UnitOf(ReadOnlySpan<long> times)
    {
        var unit = Units.Length - 1;
        foreach (var time in times)
        {
            while (time % Units[unit] != 0)
                unit--;
            if (unit == 0)
                break;
        }

        return unit;
    }

    private static long? StepOf(ReadOnlySpan<long> ticks)
    {
        if (ticks.Length < 2)
            return 0;
        for (var i = 1; i < ticks.Length; i++)
        {
            if (ticks[i] - ticks[i - 1] != ticks[1])
                return null;
        }

        return ticks[1];
    }

    private static void WriteJittered(PackWriter to, ReadOnlySpan<long> ticks)
    {
        var count = ticks.Length - 1;
        var rented = ArrayPool<long>.Shared.Rent(2 * count);
        try
        {
            var skips = rented.AsSpan(0, count);
            var misses = rented.AsSpan(count, count);
            for (var i = 0; i < count; i++)
                skips[i] = ticks[i + 1] - ticks[i];
            skips.Sort();
            var period = Math.Max(1, skips[count / 2]);
            long place = 0;
            for (var i = 0; i < count; i++)
            {
                place += period << PlaceBits;
                skips[i] = Nearest((ticks[i + 1] << PlaceBits) - place, period << PlaceBits);
                place += skips[i] * (period << PlaceBits);
                misses[i] = ticks[i + 1] - (place >> PlaceBits);
                place += (misses[i] << PlaceBits) >> FollowBits;
            }

            to.WriteNumber((ulong)period);
            PackedIntegers.Write(to, skips);
            PackedIntegers.Write(to, misses);
        }
        finally
        {
            ArrayPool<long>.Shared.Return(rented);
        }
    }

    private static void ReadJittered(ref PackReader from, Span<long> ticks)
    {
        var period = (long)from.ReadNumber() << PlaceBits;
        var count = ticks.Length - 1;
        var rented = ArrayPool<long>.Shared.Rent(Math.Max(2 * count, 1));
        try
        {
            var skips = rented.AsSpan(0, count);
            var misses = rented.AsSpan(count, count);
            PackedIntegers.Read(ref from, skips);
            PackedIntegers.Read(ref from, misses);
            long place = 0;
            ticks[0] = 0;
            for (var i = 0; i < count; i++)
            {
                place += period + (skips[i] * period);
                ticks[i + 1] = (place >> PlaceBits) + misses[i];
                place += (misses[i] << PlaceBits) >> FollowBits;
            }
        }
        finally
        {
            ArrayPool<long>.Shared.Return(rented);
        }
    }

    private static long Nearest(long distance, long step)
    {
        var whole = distance / step;
        var rest = distance - (whole * step);
        return rest > step / 2 ? whole + 1 : rest < -step / 2 ? whole - 1 : whole;
    }
}
