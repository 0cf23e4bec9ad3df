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
/// <param name="hasSpoken">Called once, with the first packet.</param>
internal sealed class NamingChannel(IMqttChannelAdapter inner, Action hasSpoken) : PassingAdapter(inner)
{
    private bool _hasSpoken;

    public override Task<MqttPacket> ReceivePacketAsync(CancellationToken cancellationToken) =>
        _hasSpoken ? base.ReceivePacketAsync(cancellationToken) : ReceiveFirstAsync(cancellationToken);

    private async Task<MqttPacket> ReceiveFirstAsync(CancellationToken stop)
    {
        var packet = await base.ReceivePacketAsync(stop);
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
