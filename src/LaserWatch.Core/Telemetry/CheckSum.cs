using System.Buffers.Binary;
using System.Numerics;

namespace LaserWatch.Telemetry;

/// <summary>CRC-32C (Castagnoli), which sees what a disk or a wire does to stored bytes. No protection against intent: see <c>Proof</c>.</summary>
public static class CheckSum
{
    /// <summary>The checksum of the content alone.</summary>
    public static uint Of(ReadOnlySpan<byte> content) => ~Continue(uint.MaxValue, content);

    /// <summary>The same, with a key before it: content that has got to another place does not match.</summary>
    public static uint Of(long key, ReadOnlySpan<byte> content) => ~Continue(BitOperations.Crc32C(uint.MaxValue, (ulong)key), content);

    private static uint Continue(uint check, ReadOnlySpan<byte> content)
    {
        while (content.Length >= sizeof(ulong))
        {
            check = BitOperations.Crc32C(check, BinaryPrimitives.ReadUInt64LittleEndian(content));
            content = content[sizeof(ulong)..];
        }

        foreach (var value in content)
            check = BitOperations.Crc32C(check, value);
        return check;
    }
}
