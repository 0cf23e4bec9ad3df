using System.Buffers.Binary;
using System.Net;
using System.Net.Sockets;
using System.Text;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>MQTT 3.1.1 over a bare socket: the cheapest load there is, so that the one who sends is never what is measured.</summary>
/// <remarks>Blocks; for one thread.</remarks>
internal sealed class Wire : IDisposable
{
    private const int AcknowledgementBytes = 4;

    private readonly Socket _socket = new(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
    private readonly byte[] _answers = new byte[64 * 1024];
    private int _rest;
    private int _unacknowledged;

    public Wire(int port, string clientId)
    {
        _socket.Connect(IPAddress.Loopback, port);
        _socket.Send(Connect(clientId));
        for (var got = 0; got < AcknowledgementBytes;)
        {
            var read = _socket.Receive(_answers, got, AcknowledgementBytes - got, SocketFlags.None);
            if (read == 0)
                throw new IOException("The broker hung up on the load.");
            got += read;
        }

        if (_answers[3] != 0)
            throw new IOException($"The broker refuses the load: {_answers[3]}.");
    }

    /// <summary>Sends packets as they stand.</summary>
    /// <param name="acknowledged">How many of them will be acknowledged.</param>
    public void Send(ReadOnlySpan<byte> packets, int acknowledged)
    {
        while (!packets.IsEmpty)
            packets = packets[_socket.Send(packets)..];
        _unacknowledged += acknowledged;
    }

    /// <summary>Waits until no more than so many are unacknowledged.</summary>
    public void AwaitAcknowledged(int most)
    {
        while (_unacknowledged > most)
        {
            var read = _socket.Receive(_answers);
            if (read == 0)
                throw new IOException("The broker hung up on the load.");
            _rest += read;
            _unacknowledged -= _rest / AcknowledgementBytes;
            _rest %= AcknowledgementBytes;
        }
    }

    public void Dispose() => _socket.Dispose();

    /// <param name="packetId">0 at QoS 0.</param>
    public static byte[] Publish(string topic, ReadOnlySpan<byte> payload, ushort packetId)
    {
        var name = Encoding.UTF8.GetBytes(topic);
        var length = 2 + name.Length + (packetId == 0 ? 0 : 2) + payload.Length;
        var packet = new List<byte> { (byte)(packetId == 0 ? 0x30 : 0x32) };
        AddLength(packet, length);
        Add(packet, name);
        if (packetId != 0)
            Add(packet, packetId);
        packet.AddRange(payload);
        return [.. packet];
    }

    private static byte[] Connect(string clientId)
    {
        const byte level = 4, cleanSession = 2;
        var name = Encoding.UTF8.GetBytes(clientId);
        var packet = new List<byte> { 0x10 };
        AddLength(packet, 12 + name.Length);
        Add(packet, "MQTT"u8);
        packet.AddRange([level, cleanSession, 0, 0]); // no keep-alive
        Add(packet, name);
        return [.. packet];
    }

    private static void Add(List<byte> packet, ReadOnlySpan<byte> text)
    {
        Add(packet, (ushort)text.Length);
        packet.AddRange(text);
    }

    private static void Add(List<byte> packet, ushort number)
    {
        Span<byte> two = stackalloc byte[2];
        BinaryPrimitives.WriteUInt16BigEndian(two, number);
        packet.AddRange(two);
    }

    private static void AddLength(List<byte> packet, int length)
    {
        for (; length >= 0x80; length >>= 7)
            packet.Add((byte)(length | 0x80));
        packet.Add((byte)length);
    }
}
