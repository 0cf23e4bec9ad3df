using System.Buffers.Binary;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Packing;

/// <summary>The frame about every packed block, and the description of what stands in it.</summary>
/// <remarks>
/// <para>All blocks: one byte version (1), the body, four bytes CRC-32C (little endian) of version and body, begun with the block's key
/// (what it belongs to), so that a block in another's place is seen too. A block of another version is refused.</para>
/// <para>Numbers below are LEB128: seven bits a byte, least first, the top bit set where more follow; signed ones are zigzag (0, −1, 1, −2 …) first.</para>
/// <para><b>Integers</b> (<see cref="PackedIntegers"/>), their count known: a byte = order + 4 × width + 64 where not compressed. Order 0 is the
/// values, 1 their differences, 2 the differences of those; 1 and 2 begin with their first one or two terms as signed numbers. What remains is zigzag, laid out in
/// planes (the lowest byte of all, then the second of all …, <c>width</c> of them), and compressed by Brotli: length, bytes. Width 0: all are zero, nothing follows.</para>
/// <para><b>Times</b> (<see cref="PackedTimes"/>): count; a byte = kind + 4 × unit (0 ns, 1 µs, 2 ms, 3 s); the first time, signed, in units. Kind 0: the step,
/// each time one further. Kind 1: integers, the times less the first. Kind 2, a clock with jitter: the period; integers, for each time from the second on how many
/// periods more or less than one it lies after the one before; integers, what it lies beside that place. The place follows the times by an eighth of what they lie beside it.</para>
/// <para><b>Values</b> (<see cref="PackedValues"/>), their count known from the times: a byte, the kind. 0: one value, 8 bytes. 1, decimal: a byte e; the middle, signed;
/// the factor f; integers k: a value is (middle + f·k) / 10^e, correctly rounded. 2, few distinct ones: their count; their bits in ascending order of the values, as integers;
/// the places in that list, as integers. 3: the bits of all as integers.</para>
/// <para><b>Minutes</b> (<see cref="PackedMinutes"/>): times (the minutes' numbers instead of times), then as values: counts, lowest, means, highest.</para>
/// </remarks>
internal static class ChunkFormat
{
    public const byte Version = 1;

    /// <summary>How long the check at the end is.</summary>
    public const int CheckBytes = sizeof(uint);

    /// <summary>Begins a block.</summary>
    public static void Begin(PackWriter to)
    {
        to.Clear();
        to.WriteByte(Version);
    }

    /// <summary>Ends the block with its check.</summary>
    public static void End(PackWriter to, long key)
    {
        Span<byte> check = stackalloc byte[CheckBytes];
        BinaryPrimitives.WriteUInt32LittleEndian(check, CheckSum.Of(key, to.Written));
        to.Write(check);
    }

    /// <summary>The body of a block.</summary>
    /// <exception cref="InvalidDataException">It is damaged, or of a version this program does not know.</exception>
    public static PackReader Open(ReadOnlySpan<byte> block, long key)
    {
        if (block.Length <= CheckBytes + 1)
            throw new InvalidDataException("the packed block is cut short");
        var content = block[..^CheckBytes];
        if (BinaryPrimitives.ReadUInt32LittleEndian(block[^CheckBytes..]) != CheckSum.Of(key, content))
            throw new InvalidDataException("the packed block does not match its checksum");
        if (content[0] != Version)
            throw new InvalidDataException($"the packed block is of version {content[0]}, which this program does not know");
        return new PackReader(content[1..]);
    }

    /// <summary>Whether the block holds the same as one that was begun and not ended.</summary>
    public static bool HasContent(ReadOnlySpan<byte> block, ReadOnlySpan<byte> begun) =>
        block.Length == begun.Length + CheckBytes && block[..begun.Length].SequenceEqual(begun);
}
