using System.Buffers.Binary;
using System.IO.Compression;

namespace LaserWatch.Storage.Sqlite;

/// <summary>A watch's saved state as it lies in the file: compressed, since a shop writes all of them anew each minute.</summary>
/// <remarks>Not safe for several threads.</remarks>
internal sealed class PackedState
{
    /// <summary>What the column <c>packing</c> says.</summary>
    public const long AsItIs = 0;

    /// <summary>Four bytes, the length unpacked (little endian), then Brotli.</summary>
    public const long Brotli = 1;

    private const int Quality = 1;
    private const int WindowBits = 18;

    // Far above any watch's, and no more memory than a damaged length may take.
    private const int MostBytes = 64 << 20;

    private byte[] _packed = [];

    /// <summary>False where packing would not make it smaller.</summary>
    public bool TryPack(ReadOnlySpan<byte> state, out ReadOnlySpan<byte> packed)
    {
        packed = default;
        if (state.Length <= sizeof(int))
            return false;
        if (_packed.Length < state.Length)
            _packed = new byte[state.Length];
        BinaryPrimitives.WriteInt32LittleEndian(_packed, state.Length);
        if (!BrotliEncoder.TryCompress(state, _packed.AsSpan(sizeof(int), state.Length - sizeof(int)), out var length, Quality, WindowBits))
            return false;
        packed = _packed.AsSpan(0, sizeof(int) + length);
        return true;
    }

    /// <returns>Empty where it is damaged: no watch takes that up, and it is built anew from the samples.</returns>
    public static byte[] Unpack(ReadOnlySpan<byte> stored, long packing)
    {
        if (packing == AsItIs)
            return stored.ToArray();
        if (packing != Brotli || stored.Length < sizeof(int) || BinaryPrimitives.ReadInt32LittleEndian(stored) is not (> 0 and <= MostBytes and var length))
            return [];
        var state = new byte[length];
        return BrotliDecoder.TryDecompress(stored[sizeof(int)..], state, out var written) && written == length ? state : [];
    }
}
