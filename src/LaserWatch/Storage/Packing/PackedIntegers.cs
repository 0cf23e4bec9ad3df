using System.Buffers;
using System.IO.Compression;

namespace LaserWatch.Storage.Packing;

/// <summary>Integers as the smallest of themselves, their differences and the differences of those, in compressed byte planes.</summary>
/// <remarks>
/// Planes and not numbers of changing length: a jump now and then costs a plane of zeros, which compresses to nothing, and reading has no
/// branch to guess at every value. Differences wrap round, so that any integers come back.
/// </remarks>
internal static class PackedIntegers
{
    private const int Orders = 3;
    private const int WidthShift = 2;
    private const byte Stored = 64;

    // A middle one, not tuned: other qualities were not measured on these planes.
    private const int Quality = 6;
    private const int WindowBits = 18;

    public static void Write(PackWriter to, ReadOnlySpan<long> values)
    {
        var terms = ArrayPool<long>.Shared.Rent(Math.Max(values.Length, 1));
        try
        {
            values.CopyTo(terms);
            var (best, least) = (0, double.PositiveInfinity);
            for (var order = 0; order < Orders && order <= values.Length; order++)
            {
                if (order > 0)
                    Differentiate(terms.AsSpan(order - 1, values.Length - order + 1));
                var bytes = EntropyBytes(terms.AsSpan(order, values.Length - order)) + (2 * order);
                if (bytes < least)
                    (best, least) = (order, bytes);
            }

            values.CopyTo(terms);
            for (var order = 1; order <= best; order++)
                Differentiate(terms.AsSpan(order - 1, values.Length - order + 1));
            WriteTerms(to, values, best, terms.AsSpan(best, values.Length - best));
        }
        finally
        {
            ArrayPool<long>.Shared.Return(terms);
        }
    }

    /// <exception cref="InvalidDataException">The bytes are damaged.</exception>
    public static void Read(ref PackReader from, Span<long> values)
    {
        var head = from.ReadByte();
        var order = head & 3;
        var width = (head >> WidthShift) & 15;
        if (order >= Orders || order > values.Length || width > 8)
            throw new InvalidDataException("the packed block has an unknown layout");
        for (var i = 0; i < order; i++)
            values[i] = from.ReadSigned();
        var rest = values[order..];
        if (width == 0)
            rest.Clear();
        else
            ReadPlanes(ref from, width, (head & Stored) != 0, rest);
        Integrate(values, order);
    }

    /// <summary>Leaves the first term and makes of the others their differences.</summary>
    private static void Differentiate(Span<long> terms)
    {
        for (var i = terms.Length - 1; i > 0; i--)
            terms[i] -= terms[i - 1];
    }

    private static void Integrate(Span<long> values, int order)
    {
        if (order == 2)
        {
            long difference = values[1], value = values[0];
            values[1] = value += difference;
            for (var i = 2; i < values.Length; i++)
                values[i] = value += difference += values[i];
        }
        else if (order == 1)
        {
            var value = values[0];
            for (var i = 1; i < values.Length; i++)
                values[i] = value += values[i];
        }
    }

    private static void ReadPlanes(ref PackReader from, int width, bool stored, Span<long> values)
    {
        if (stored)
        {
            Join(from.Read(checked(width * values.Length)), width, values);
            return;
        }

        var packed = from.Read(from.ReadCount());
        var size = checked(width * values.Length);
        var planes = ArrayPool<byte>.Shared.Rent(size);
        try
        {
            if (!BrotliDecoder.TryDecompress(packed, planes.AsSpan(0, size), out var written) || written != size)
                throw new InvalidDataException("the packed block does not unpack");
            Join(planes.AsSpan(0, size), width, values);
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(planes);
        }
    }

    private static void Join(ReadOnlySpan<byte> planes, int width, Span<long> values)
    {
        var low = planes[..values.Length];
        if (width == 1)
        {
            for (var i = 0; i < values.Length; i++)
                values[i] = (low[i] >> 1) ^ -(low[i] & 1);
            return;
        }

        if (width == 2)
        {
            var high = planes[values.Length..][..values.Length];
            for (var i = 0; i < values.Length; i++)
            {
                var both = low[i] | (high[i] << 8);
                values[i] = (both >> 1) ^ -(both & 1);
            }

            return;
        }

        for (var i = 0; i < values.Length; i++)
        {
            ulong all = 0;
            for (var plane = 0; plane < width; plane++)
                all |= (ulong)planes[(plane * values.Length) + i] << (8 * plane);
            values[i] = PackReader.UnZigZag(all);
        }
    }

    private static int WidthOf(ReadOnlySpan<long> terms)
    {
        ulong any = 0;
        foreach (var term in terms)
            any |= PackWriter.ZigZag(term);
        return (64 - System.Numerics.BitOperations.LeadingZeroCount(any) + 7) / 8;
    }

    /// <summary>What the planes come to if each byte stood for itself: to compress all three orders takes three times as long.</summary>
    private static double EntropyBytes(ReadOnlySpan<long> terms)
    {
        Span<int> counts = stackalloc int[256];
        var width = WidthOf(terms);
        var bits = 0.0;
        for (var plane = 0; plane < width; plane++)
        {
            counts.Clear();
            foreach (var term in terms)
                counts[(byte)(PackWriter.ZigZag(term) >> (8 * plane))]++;
            foreach (var count in counts)
            {
                if (count > 0)
                    bits += count * Math.Log2((double)terms.Length / count);
            }
        }

        return bits / 8;
    }

    private static void WriteTerms(PackWriter to, ReadOnlySpan<long> values, int order, ReadOnlySpan<long> terms)
    {
        var width = WidthOf(terms);
        var size = checked(width * terms.Length);
        var rented = ArrayPool<byte>.Shared.Rent(Math.Max(2 * size, 1));
        try
        {
            var planes = rented.AsSpan(0, size);
            var packed = rented.AsSpan(size, size);
            for (var i = 0; i < terms.Length; i++)
            {
                var all = PackWriter.ZigZag(terms[i]);
                for (var plane = 0; plane < width; plane++)
                    planes[(plane * terms.Length) + i] = (byte)(all >> (8 * plane));
            }

            // Where it does not fit into as many bytes, it is better stored as it is.
            var length = 0;
            var stored = size > 0 && !BrotliEncoder.TryCompress(planes, packed, out length, Quality, WindowBits);
            to.WriteByte((byte)(order | (width << WidthShift) | (stored ? Stored : 0)));
            if (order > 0)
                to.WriteSigned(values[0]);
            if (order > 1)
                to.WriteSigned(values[1] - values[0]);
            if (width == 0)
                return;
            if (!stored)
                to.WriteNumber((ulong)length);
            to.Write(stored ? planes : packed[..length]);
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(rented);
        }
    }
}
