using System.Net;
using System.Security.Cryptography.X509Certificates;
using MQTTnet.Adapter;
using MQTTnet.Formatter;
using MQTTnet.Packets;

namespace LaserWatch.Mqtt;

/// <summary>An adapter of the library that is looked into on the way: everything goes on to the one within.</summary>
internal abstract class PassingAdapter(IMqttChannelAdapter inner) : IMqttChannelAdapter
{
    public long BytesReceived => inner.BytesReceived;

    public long BytesSent => inner.BytesSent;

    public X509Certificate2 ClientCertificate => inner.ClientCertificate;

    public EndPoint RemoteEndPoint => inner.RemoteEndPoint;

    public EndPoint LocalEndPoint => inner.LocalEndPoint;

    public bool IsSecureConnection => inner.IsSecureConnection;

    public MqttPacketFormatterAdapter PacketFormatterAdapter => inner.PacketFormatterAdapter;

    public Task ConnectAsync(CancellationToken cancellationToken) => inner.ConnectAsync(cancellationToken);

    public Task DisconnectAsync(CancellationToken cancellationToken) => inner.DisconnectAsync(cancellationToken);

    public virtual Task SendPacketAsync(MqttPacket packet, CancellationToken cancellationToken) =>
        inner.SendPacketAsync(packet, cancellationToken);

    public void ResetStatistics() => inner.ResetStatistics();

    public virtual Task<MqttPacket> ReceivePacketAsync(CancellationToken cancellationToken) => inner.ReceivePacketAsync(cancellationToken);

    public void Dispose() => inner.Dispose();
}
