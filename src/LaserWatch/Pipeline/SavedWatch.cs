using System.Buffers.Binary;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>A watch's state as it lies in the store: eight bytes that tell up to when it has taken everything in, then the state.</summary>
public static class SavedWatch
{
    /// <param name="seenUntil">Arrival of the last message that the state has taken in.</param>
    public static byte[] Pack(Instant seenUntil, ReadOnlySpan<byte> state)
    {
        var packed = new byte[sizeof(long) + state.Length];
        BinaryPrimitives.WriteInt64LittleEndian(packed, seenUntil.UnixNanoseconds);
        state.CopyTo(packed.AsSpan(sizeof(long)));
        return packed;
    }

    /// <summary>False where the bytes are too few to be such a state.</summary>
    public static bool TryUnpack(ReadOnlySpan<byte> packed, out Instant seenUntil, out ReadOnlySpan<byte> state)
    {
        seenUntil = default;
        state = default;
        if (packed.Length < sizeof(long))
            return false;
        seenUntil = new Instant(BinaryPrimitives.ReadInt64LittleEndian(packed));
        state = packed[sizeof(long)..];
        return true;
    }
}
