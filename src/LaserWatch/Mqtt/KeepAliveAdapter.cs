using MQTTnet.Adapter;
using MQTTnet.Packets;

namespace LaserWatch.Mqtt;

/// <summary>Promises the broker a sign of life, where the library is told to give none.</summary>
/// <remarks>
/// The library looks four times a second whether a ping is due, for each connection: more waking up than all the sensors of a machine give cause
/// for. <see cref="BrokerConnection"/> keeps the promise by a timer of its own.
/// </remarks>
internal sealed class KeepAliveAdapter(IMqttChannelAdapter inner, ushort seconds) : PassingAdapter(inner)
{
    public override Task SendPacketAsync(MqttPacket packet, CancellationToken cancellationToken)
    {
        if (packet is MqttConnectPacket connect)
            connect.KeepAlivePeriod = seconds;
        return base.SendPacketAsync(packet, cancellationToken);
    }
}
