using System.Buffers.Binary;
using System.IO.Compression;

namespace LaserWatch.Storage.Sqlite;

/// <summary>A watch's saved state as it lies in the file: four bytes, its length (little endian), then Brotli. A shop writes all of them each minute.</summary>
/// <remarks>Not safe for several threads.</remarks>
internal sealed class PackedState
{
    private const int Quality = 1;
    private const int WindowBits = 18;

    // Far above any watch's, and no more memory than a damaged length may take.
    private const int MostBytes = 64 << 20;

    private byte[] _packed = [];

    /// <summary>The packed state; good until the next call.</summary>
    public ReadOnlySpan<byte> Pack(ReadOnlySpan<byte> state)
    {
        var room = sizeof(int) + BrotliEncoder.GetMaxCompressedLength(state.Length);
        if (_packed.Length < room)
            _packed = new byte[room];
        BinaryPrimitives.WriteInt32LittleEndian(_packed, state.Length);
        if (!BrotliEncoder.TryCompress(state, _packed.AsSpan(sizeof(int)), out var length, Quality, WindowBits))
            throw new InvalidOperationException($"A state of {state.Length} bytes could not be compressed.");
        return _packed.AsSpan(0, sizeof(int) + length);
    }

    /// <returns>Empty where it is damaged: no watch takes that up, and it is built anew from the samples.</returns>
    public static byte[] Unpack(ReadOnlySpan<byte> stored)
    {
        if (stored.Length < sizeof(int) || BinaryPrimitives.ReadInt32LittleEndian(stored) is not (> 0 and <= MostBytes and var length))
            return [];
        var state = new byte[length];
        return BrotliDecoder.TryDecompress(stored[sizeof(int)..], state, out var written) && written == length ? state : [];
    }
}
