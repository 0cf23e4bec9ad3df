namespace LaserWatch.Mqtt;

/// <summary>The acknowledgement of one message, as it goes over the wire: PUBACK at QoS 1, PUBREC at QoS 2.</summary>
/// <remarks>Four bytes in every version of the protocol, while there is nothing to complain of.</remarks>
internal readonly record struct Receipt(ushort PacketId, bool IsFirstOfTwo)
{
    public const int Bytes = 4;

    private const byte PubAck = 0x40;
    private const byte PubRec = 0x50;

    public void Write(Span<byte> to)
    {
        to[0] = IsFirstOfTwo ? PubRec : PubAck;
        to[1] = 2;
        to[2] = (byte)(PacketId >> 8);
        to[3] = (byte)PacketId;
    }
}
