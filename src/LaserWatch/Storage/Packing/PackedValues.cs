using System.Buffers;
using System.Buffers.Binary;

namespace LaserWatch.Storage.Packing;

/// <summary>Finite numbers, to the bit. The format stands in <see cref="ChunkFormat"/>.</summary>
internal static class PackedValues
{
    private const byte Constant = 0;
    private const byte Decimal = 1;
    private const byte Distinct = 2;
    private const byte Bits = 3;

    // Up to it powers of ten and all whole numbers are exact as doubles, so that one division gives the number that the decimal names.
    private const int MostDecimals = 15;
    private const double MostWhole = 9_007_199_254_740_992;

    private const int MostDistinct = 4096;

    private static readonly double[] Tens = [1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

    public static void Write(PackWriter to, ReadOnlySpan<double> values)
    {
        if (IsConstant(values))
        {
            to.WriteByte(Constant);
            Span<byte> bits = stackalloc byte[sizeof(long)];
            BinaryPrimitives.WriteInt64LittleEndian(bits, values.IsEmpty ? 0 : BitConverter.DoubleToInt64Bits(values[0]));
            to.Write(bits);
            return;
        }

        var rented = ArrayPool<long>.Shared.Rent(values.Length);
        try
        {
            var whole = rented.AsSpan(0, values.Length);
            if (TryScale(values, whole, out var decimals))
                WriteDecimal(to, whole, decimals);
            else
                WriteBits(to, values, whole);
        }
        finally
        {
            ArrayPool<long>.Shared.Return(rented);
        }
    }

    /// <exception cref="InvalidDataException">The bytes are damaged.</exception>
    public static void Read(ref PackReader from, Span<double> values)
    {
        var kind = from.ReadByte();
        if (kind == Constant)
        {
            values.Fill(BitConverter.Int64BitsToDouble(BinaryPrimitives.ReadInt64LittleEndian(from.Read(sizeof(long)))));
            return;
        }

        var rented = ArrayPool<long>.Shared.Rent(Math.Max(values.Length, 1));
        try
        {
            var whole = rented.AsSpan(0, values.Length);
            switch (kind)
            {
                case Decimal:
                    ReadDecimal(ref from, whole, values);
                    break;
                case Distinct:
                    ReadDistinct(ref from, whole, values);
                    break;
                case Bits:
                    PackedIntegers.Read(ref from, whole);
                    for (var i = 0; i < values.Length; i++)
                        values[i] = BitConverter.Int64BitsToDouble(whole[i]);
                    break;
                default:
                    throw new InvalidDataException("the packed values are of an unknown kind");
            }
        }
        finally
        {
            ArrayPool<long>.Shared.Return(rented);
        }
    }

    /// <summary>Whether all are the same to the bit.</summary>
    private static bool IsConstant(ReadOnlySpan<double> values)
    {
        foreach (var value in values)
        {
            if (BitConverter.DoubleToInt64Bits(value) != BitConverter.DoubleToInt64Bits(values[0]))
                return false;
        }

        return true;
    }

    /// <summary>Finds the fewest decimals with which all come back to the bit.</summary>
    private static bool TryScale(ReadOnlySpan<double> values, Span<long> whole, out int decimals)
    {
        decimals = 0;
        foreach (var value in values)
        {
            while (!IsExact(value, decimals, out _))
            {
                if (++decimals > MostDecimals)
                    return false;
            }
        }

        // One that came back with fewer decimals need not with more: near the end of what is exact the whole number grows too large.
        for (var i = 0; i < values.Length; i++)
        {
            if (!IsExact(values[i], decimals, out whole[i]))
                return false;
        }

        return true;
    }

    private static bool IsExact(double value, int decimals, out long whole)
    {
        var scaled = Math.Round(value * Tens[decimals]);
        whole = 0;
        if (!(Math.Abs(scaled) <= MostWhole))
            return false;
        whole = (long)scaled;
        return BitConverter.DoubleToInt64Bits(whole / Tens[decimals]) == BitConverter.DoubleToInt64Bits(value);
    }

    private static void WriteDecimal(PackWriter to, Span<long> whole, int decimals)
    {
        long least = whole[0], most = whole[0], factor = 0;
        foreach (var value in whole)
        {
            least = Math.Min(least, value);
            most = Math.Max(most, value);
            factor = GreatestCommonDivisor(factor, Math.Abs(value - whole[0]));
        }

        // About the middle the zigzag numbers are smallest.
        var middle = whole[0] + (((least + ((most - least) / 2)) - whole[0]) / factor * factor);
        for (var i = 0; i < whole.Length; i++)
            whole[i] = (whole[i] - middle) / factor;
        to.WriteByte(Decimal);
        to.WriteByte((byte)decimals);
        to.WriteSigned(middle);
        to.WriteNumber((ulong)factor);
        PackedIntegers.Write(to, whole);
    }

    private static void ReadDecimal(ref PackReader from, Span<long> whole, Span<double> values)
    {
        var decimals = from.ReadByte();
        if (decimals > MostDecimals)
            throw new InvalidDataException("the packed values have too many decimals");
        var middle = from.ReadSigned();
        var factor = (long)from.ReadNumber();
        PackedIntegers.Read(ref from, whole);
        var ten = Tens[decimals];
        for (var i = 0; i < values.Length; i++)
            values[i] = (middle + (factor * whole[i])) / ten;
    }

    private static void WriteBits(PackWriter to, ReadOnlySpan<double> values, Span<long> whole)
    {
        for (var i = 0; i < values.Length; i++)
            whole[i] = BitConverter.DoubleToInt64Bits(values[i]);
        var bits = new PackWriter();
        bits.WriteByte(Bits);
        PackedIntegers.Write(bits, whole);
        if (TryListDistinct(values) is { } list)
        {
            var distinct = new PackWriter();
            WriteDistinct(distinct, values, list, whole);
            if (distinct.Length < bits.Length)
                bits = distinct;
        }

        to.Write(bits.Written);
    }

    private static double[]? TryListDistinct(ReadOnlySpan<double> values)
    {
        var most = Math.Min(values.Length / 2, MostDistinct);
        var seen = new HashSet<long>();
        foreach (var value in values)
        {
            if (seen.Add(BitConverter.DoubleToInt64Bits(value)) && seen.Count > most)
                return null;
        }

        // Comparing by value alone would put −0 and 0 in any order.
        return [.. seen.Select(BitConverter.Int64BitsToDouble).OrderBy(value => value).ThenBy(value => double.IsNegative(value) ? 0 : 1)];
    }

    private static void WriteDistinct(PackWriter to, ReadOnlySpan<double> values, double[] list, Span<long> places)
    {
        var bits = Array.ConvertAll(list, BitConverter.DoubleToInt64Bits);
        var places1 = new Dictionary<long, int>(list.Length);
        for (var i = 0; i < bits.Length; i++)
            places1.Add(bits[i], i);
        for (var i = 0; i < values.Length; i++)
            places[i] = places1[BitConverter.DoubleToInt64Bits(values[i])];
        to.WriteByte(Distinct);
        to.WriteNumber((ulong)list.Length);
        PackedIntegers.Write(to, bits);
        PackedIntegers.Write(to, places);
    }

    private static void ReadDistinct(ref PackReader from, Span<long> places, Span<double> values)
    {
        var length = from.ReadCount();
        if (length > MostDistinct)
            throw new InvalidDataException("the packed values have too long a list");
        var list = new long[length];
        PackedIntegers.Read(ref from, list);
        PackedIntegers.Read(ref from, places);
        for (var i = 0; i < values.Length; i++)
        {
            if ((ulong)places[i] >= (ulong)list.Length)
                throw new InvalidDataException("a packed value is not in its list");
            values[i] = BitConverter.Int64BitsToDouble(list[places[i]]);
        }
    }

    private static long GreatestCommonDivisor(long a, long b)
    {
        while (b != 0)
            (a, b) = (b, a % b);
        return a;
    }
}
