using System.Net;
using System.Security.Cryptography.X509Certificates;
using MQTTnet.Adapter;
using MQTTnet.Formatter;
using MQTTnet.Packets;

namespace LaserWatch.Mqtt;

/// <summary>Gives a name to a client that comes without one.</summary>
/// <remarks>
/// MQTT lets a client leave its name to the broker, and mosquitto_pub does so unless told otherwise. The server library grants
/// that to MQTT 5 only; so the name is filled in before it sees the packet.
/// </remarks>
/// <param name="inner">Stays its owner's, to dispose.</param>
/// <param name="wire">What the packets go through at last.</param>
/// <param name="hasSpoken">Called once, with the first packet.</param>
internal sealed class NamingChannel(IMqttChannelAdapter inner, BufferedChannel wire, Action hasSpoken) : IMqttChannelAdapter
{
    private bool _hasSpoken;

    /// <summary>For packets that the library need not see.</summary>
    public BufferedChannel Wire => wire;

    public long BytesReceived => inner.BytesReceived;

    public long BytesSent => inner.BytesSent;

    public X509Certificate2 ClientCertificate => inner.ClientCertificate;

    public EndPoint RemoteEndPoint => inner.RemoteEndPoint;

    public EndPoint LocalEndPoint => inner.LocalEndPoint;

    public bool IsSecureConnection => inner.IsSecureConnection;

    public MqttPacketFormatterAdapter PacketFormatterAdapter => inner.PacketFormatterAdapter;

    public Task ConnectAsync(CancellationToken cancellationToken) => inner.ConnectAsync(cancellationToken);

    public Task DisconnectAsync(CancellationToken cancellationToken) => inner.DisconnectAsync(cancellationToken);

    public Task SendPacketAsync(MqttPacket packet, CancellationToken cancellationToken) =>
        inner.SendPacketAsync(packet, cancellationToken);

    public void ResetStatistics() => inner.ResetStatistics();

    public void Dispose() => inner.Dispose();

    public Task<MqttPacket> ReceivePacketAsync(CancellationToken cancellationToken) =>
        _hasSpoken ? inner.ReceivePacketAsync(cancellationToken) : ReceiveFirstAsync(cancellationToken);

    private async Task<MqttPacket> ReceiveFirstAsync(CancellationToken stop)
    {
        var packet = await inner.ReceivePacketAsync(stop);
        _hasSpoken = true;
        hasSpoken();

        // Only with a clean session [MQTT-3.1.3-7]; MQTT 5 has its own way, in which the client is told its name.
        if (packet is MqttConnectPacket { CleanSession: true } connect && string.IsNullOrEmpty(connect.ClientId)
            && PacketFormatterAdapter.ProtocolVersion != MqttProtocolVersion.V500)
        {
            connect.ClientId = EmbeddedBrokerLink.NewClientId();
        }

        return packet!;
    }
}
