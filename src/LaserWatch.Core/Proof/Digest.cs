using System.Buffers;
using System.Buffers.Binary;
using System.Diagnostics.CodeAnalysis;
using System.Security.Cryptography;

namespace LaserWatch.Proof;

/// <summary>A SHA-256 hash: 32 bytes. <c>default</c> is all zero, which no text is known to hash to.</summary>
/// <remarks>A value and not an array: thousands of them stand in one list, and two are compared by <c>==</c>. Printed as 64 lower-case hex digits.</remarks>
public readonly record struct Digest
{
    public const int Length = 32;

    private static readonly SearchValues<char> HexDigits = SearchValues.Create("0123456789abcdef");

    private readonly ulong _a;
    private readonly ulong _b;
    private readonly ulong _c;
    private readonly ulong _d;

    /// <exception cref="ArgumentException">There are not exactly 32 bytes.</exception>
    public Digest(ReadOnlySpan<byte> bytes)
    {
        if (bytes.Length != Length)
            throw new ArgumentException($"A SHA-256 hash has {Length} bytes, not {bytes.Length}.", nameof(bytes));
        _a = BinaryPrimitives.ReadUInt64BigEndian(bytes);
        _b = BinaryPrimitives.ReadUInt64BigEndian(bytes[8..]);
        _c = BinaryPrimitives.ReadUInt64BigEndian(bytes[16..]);
        _d = BinaryPrimitives.ReadUInt64BigEndian(bytes[24..]);
    }

    /// <summary>The hash of some bytes.</summary>
    public static Digest Of(ReadOnlySpan<byte> data)
    {
        Span<byte> hash = stackalloc byte[Length];
        SHA256.HashData(data, hash);
        return new Digest(hash);
    }

    public static bool TryParse([NotNullWhen(true)] string? hex, out Digest digest)
    {
        digest = default;
        if (hex is not { Length: 2 * Length } || hex.AsSpan().ContainsAnyExcept(HexDigits))
            return false;
        digest = new Digest(Convert.FromHexString(hex));
        return true;
    }

    /// <summary>Writes the 32 bytes to the start of the place.</summary>
    public void CopyTo(Span<byte> place)
    {
        BinaryPrimitives.WriteUInt64BigEndian(place, _a);
        BinaryPrimitives.WriteUInt64BigEndian(place[8..], _b);
        BinaryPrimitives.WriteUInt64BigEndian(place[16..], _c);
        BinaryPrimitives.WriteUInt64BigEndian(place[24..], _d);
    }

    public byte[] ToArray()
    {
        var bytes = new byte[Length];
        CopyTo(bytes);
        return bytes;
    }

    public override string ToString() => Convert.ToHexStringLower(ToArray());
}
