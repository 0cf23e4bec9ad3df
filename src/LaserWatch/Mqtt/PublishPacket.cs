using System.Buffers.Binary;
using MQTTnet.Exceptions;

namespace LaserWatch.Mqtt;

/// <summary>Takes a message where it lies: its spans are good until this returns.</summary>
/// <param name="acknowledge">Says that it is safe; null at QoS 0.</param>
internal delegate void PublishHandler(in PublishPacket message, Action? acknowledge);

/// <summary>A PUBLISH, read where it lies (MQTT 5.0, section 3.3; 3.1.1 is the same without properties).</summary>
internal readonly ref struct PublishPacket
{
    private const int Kind = 0x30;
    private const int KindMask = 0xF0;
    private const int LongestLength = 4;

    public ReadOnlySpan<byte> Topic { get; private init; }

    public ReadOnlySpan<byte> Payload { get; private init; }

    public int Quality { get; private init; }

    /// <summary>0 at QoS 0.</summary>
    public ushort PacketId { get; private init; }

    public bool SentAgain { get; private init; }

    public bool Retained { get; private init; }

    public static bool IsOne(byte first) => (first & KindMask) == Kind;

    /// <summary>How long the packet is that begins here, with its header; 0 while too little of it has come to tell.</summary>
    /// <exception cref="MqttProtocolViolationException">Its length is none.</exception>
    public static int Measure(ReadOnlySpan<byte> bytes, out int header)
    {
        header = 0;
        return bytes.IsEmpty || !TryReadLength(bytes[1..], out var length, out var used) ? 0 : (header = 1 + used) + length;
    }

    /// <param name="header">Of so many bytes.</param>
    /// <param name="five">By MQTT 5, with properties.</param>
    /// <exception cref="MqttProtocolViolationException">It contradicts itself.</exception>
    public static PublishPacket Read(ReadOnlySpan<byte> packet, int header, bool five)
    {
        var quality = (packet[0] >> 1) & 3;
        var rest = packet[header..];
        var topic = Take(ref rest, TakeNumber(ref rest));
        var id = quality == 0 ? (ushort)0 : TakeNumber(ref rest);
        if (quality > 2 || (quality > 0 && id == 0))
            throw new MqttProtocolViolationException("A PUBLISH has no quality of service, or no identifier.");
        if (five)
        {
            if (!TryReadLength(rest, out var properties, out var used))
                throw CutShort();
            rest = rest[used..];
            Take(ref rest, properties);
        }

        return new()
        {
            Topic = topic,
            Payload = rest,
            Quality = quality,
            PacketId = id,
            SentAgain = (packet[0] & 8) != 0,
            Retained = (packet[0] & 1) != 0,
        };
    }

    private static ushort TakeNumber(scoped ref ReadOnlySpan<byte> rest) => BinaryPrimitives.ReadUInt16BigEndian(Take(ref rest, sizeof(ushort)));

    private static ReadOnlySpan<byte> Take(scoped ref ReadOnlySpan<byte> rest, int length)
    {
        if (length > rest.Length)
            throw CutShort();
        var taken = rest[..length];
        rest = rest[length..];
        return taken;
    }

    private static bool TryReadLength(ReadOnlySpan<byte> bytes, out int length, out int used)
    {
        length = 0;
        for (used = 0; used < LongestLength; used++)
        {
            if (used == bytes.Length)
                return false;
            length |= (bytes[used] & 0x7F) << (7 * used);
            if (bytes[used] < 0x80)
            {
                used++;
                return true;
            }
        }

        throw new MqttProtocolViolationException("The length of a packet has more than four bytes.");
    }

    private static MqttProtocolViolationException CutShort() => new("A PUBLISH ends before its parts do.");
}
