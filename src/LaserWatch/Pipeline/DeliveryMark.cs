using System.Runtime.InteropServices;
using System.Security.Cryptography;
using LaserWatch.Mqtt;
using LaserWatch.Storage;

namespace LaserWatch.Pipeline;

/// <summary>Makes the mark by which a QoS 1 delivery is known again, also by the next process.</summary>
public static class DeliveryMark
{
    /// <summary>Null at QoS 0: nothing is sent again there.</summary>
    public static PacketDelivery? Of(in RawMessage message)
    {
        if (message.PacketId == 0)
            return null;
        return new(message.Session, message.PacketId, Hash(message.Topic, message.Payload.Span));
    }

    // The first eight bytes of two SHA-256: the runtime's own hashes are seeded anew in each process.
    private static ulong Hash(string topic, ReadOnlySpan<byte> payload)
    {
        Span<byte> both = stackalloc byte[64];
        SHA256.HashData(MemoryMarshal.AsBytes(topic.AsSpan()), both);
        SHA256.HashData(payload, both[32..]);
        return MemoryMarshal.Read<ulong>(both) ^ ulong.RotateLeft(MemoryMarshal.Read<ulong>(both[32..]), 1);
    }
}
