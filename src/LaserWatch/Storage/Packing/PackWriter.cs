using System.Buffers;

namespace LaserWatch.Storage.Packing;

/// <summary>A growing row of bytes, used again and again. Not safe for several threads.</summary>
internal sealed class PackWriter
{
    private byte[] _bytes = new byte[8192];
    private int _length;

    public ReadOnlySpan<byte> Written => _bytes.AsSpan(0, _length);

    public int Length => _length;

    public void Clear() => _length = 0;

    public void WriteByte(byte value) => Take(1)[0] = value;

    public void Write(ReadOnlySpan<byte> bytes) => bytes.CopyTo(Take(bytes.Length));

    public void WriteNumber(ulong value)
    {
        for (; value >= 0x80; value >>= 7)
            WriteByte((byte)(value | 0x80));
        WriteByte((byte)value);
    }

    public void WriteSigned(long value) => WriteNumber(ZigZag(value));

    public static ulong ZigZag(long value) => (ulong)((value << 1) ^ (value >> 63));

    private Span<byte> Take(int count)
    {
        if (_length + count > _bytes.Length)
            Array.Resize(ref _bytes, Math.Max(2 * _bytes.Length, _length + count));
        var taken = _bytes.AsSpan(_length, count);
        _length += count;
        return taken;
    }
}

/// <summary>Reads what a <see cref="PackWriter"/> wrote.</summary>
/// <remarks>Every method throws <see cref="InvalidDataException"/> where the bytes end too soon or say what cannot be.</remarks>
internal ref struct PackReader(ReadOnlySpan<byte> bytes)
{
    private ReadOnlySpan<byte> _rest = bytes;

    /// <summary>Bytes that were not read yet.</summary>
    public readonly int Left => _rest.Length;

    public byte ReadByte() => Read(1)[0];

    public ReadOnlySpan<byte> Read(int count)
    {
        if ((uint)count > (uint)_rest.Length)
            throw new InvalidDataException("the packed block ends too soon");
        var read = _rest[..count];
        _rest = _rest[count..];
        return read;
    }

    public ulong ReadNumber()
    {
        ulong value = 0;
        for (var shift = 0; shift < 64; shift += 7)
        {
            var part = ReadByte();
            value |= (ulong)(part & 0x7F) << shift;
            if (part < 0x80)
                return value;
        }

        throw new InvalidDataException("a number of the packed block has no end");
    }

    public long ReadSigned() => UnZigZag(ReadNumber());

    /// <summary>More than a series can have in an hour (9000 a second), and as many as memory is taken for on a block's word.</summary>
    public const int MostCount = 1 << 25;

    /// <summary>A count that memory is taken for.</summary>
    public int ReadCount()
    {
        var count = ReadNumber();
        return count <= MostCount ? (int)count : throw new InvalidDataException("a count of the packed block is too large");
    }

    public static long UnZigZag(ulong value) => (long)(value >> 1) ^ -(long)(value & 1);
}
