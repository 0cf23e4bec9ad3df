using MQTTnet.Adapter;
using MQTTnet.Formatter;
using MQTTnet.Packets;

namespace LaserWatch.Mqtt;

/// <summary>Takes messages past the library, which would make a dozen objects and two changes of thread of each; all other packets are the library's.</summary>
/// <remarks>They are taken in the library's receiving task, one at a time, in the order in which they came.</remarks>
internal sealed class DirectAdapter(IMqttChannelAdapter inner, BufferedChannel wire, PublishTaker take) : PassingAdapter(inner)
{
    public override async Task<MqttPacket> ReceivePacketAsync(CancellationToken cancellationToken)
    {
        // Where the connection ends, the library finds it by itself in the next read.
        while (TakeWhatHasCome() && await wire.FillAsync(cancellationToken))
        {
        }

        return await base.ReceivePacketAsync(cancellationToken);
    }

    /// <returns>False where a packet begins that is the library's; true where more must come first.</returns>
    private bool TakeWhatHasCome()
    {
        var five = PacketFormatterAdapter.ProtocolVersion == MqttProtocolVersion.V500;
        while (true)
        {
            var ahead = wire.Ahead;
            if (ahead.IsEmpty)
                return true;
            if (!PublishPacket.IsOne(ahead[0]))
                return false;
            var length = PublishPacket.Measure(ahead, out var header);
            if (length == 0 || length > ahead.Length)
                return true;
            take(PublishPacket.Read(ahead[..length], header, five));
            wire.Skip(length);
        }
    }
}

/// <summary>Must not wait.</summary>
internal delegate void PublishTaker(in PublishPacket message);
