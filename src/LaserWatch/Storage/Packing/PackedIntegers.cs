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
        Candidate? best = null;
        try
        {
            values.CopyTo(terms);
            for (var order = 0; order < Orders && order <= values.Length; order++)
            {
                if (order > 0)
                    Differentiate(terms.AsSpan(order - 1, values.Length - order + 1));
                var candidate = new Candidate(order, terms.AsSpan(order, values.Length - order));
                if (best is null || candidate.Size < best.Size)
                {
                    best?.Dispose();
                    best = candidate;
                }
                else
                {
                    candidate.Dispose();
                }
            }

            best!.Write(to, values);
        }
        finally
        {
            best?.Dispose();
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

    /// <summary>What the terms of one order come to.</summary>
    private sealed class Candidate : IDisposable
    {
        private readonly int _order;
        private readonly int _width;
        private readonly bool _stored;
        private readonly byte[] _bytes;
        private readonly int _length;

        public Candidate(int order, ReadOnlySpan<long> terms)
        {
            _order = order;
            ulong any = 0;
            foreach (var term in terms)
                any |= PackWriter.ZigZag(term);
            _width = (64 - System.Numerics.BitOperations.LeadingZeroCount(any) + 7) / 8;
            var size = checked(_width * terms.Length);
            _bytes = ArrayPool<byte>.Shared.Rent(Math.Max(size, 1));
            if (size == 0)
                return;

            var planes = ArrayPool<byte>.Shared.Rent(size);
            for (var i = 0; i < terms.Length; i++)
            {
                var all = PackWriter.ZigZag(terms[i]);
                for (var plane = 0; plane < _width; plane++)
                    planes[(plane * terms.Length) + i] = (byte)(all >> (8 * plane));
            }

            // Where it does not fit into as many bytes, it is better stored as it is.
            _stored = !BrotliEncoder.TryCompress(planes.AsSpan(0, size), _bytes.AsSpan(0, size), out _length, Quality, WindowBits);
            if (_stored)
            {
                planes.AsSpan(0, size).CopyTo(_bytes);
                _length = size;
            }

            ArrayPool<byte>.Shared.Return(planes);
        }

        /// <summary>Bytes, with about what the first terms take.</summary>
        public int Size => _length + (2 * _order);

        public void Write(PackWriter to, ReadOnlySpan<long> values)
        {
            to.WriteByte((byte)(_order | (_width << WidthShift) | (_stored ? Stored : 0)));
            if (_order > 0)
                to.WriteSigned(values[0]);
            if (_order > 1)
                to.WriteSigned(values[1] - values[0]);
            if (_width == 0)
                return;
            if (!_stored)
                to.WriteNumber((ulong)_length);
            to.Write(_bytes.AsSpan(0, _length));
        }

        public void Dispose() => ArrayPool<byte>.Shared.Return(_bytes);
    }
}
