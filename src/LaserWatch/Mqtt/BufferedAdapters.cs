using MQTTnet;
using MQTTnet.Adapter;
using MQTTnet.Diagnostics.Logger;
using MQTTnet.Diagnostics.PacketInspection;
using MQTTnet.Formatter;
using MQTTnet.Implementations;

namespace LaserWatch.Mqtt;

/// <summary>Makes the library's client read and write through a <see cref="BufferedChannel"/>.</summary>
/// <param name="keepAliveSeconds">As of <see cref="KeepAliveAdapter"/>.</param>
internal sealed class BufferedAdapters(int readAhead, InboxGate? gate, ushort keepAliveSeconds) : IMqttClientAdapterFactory
{
    private volatile BufferedChannel? _channel;

    /// <summary>Takes messages past the library; null: they are the library's like all else.</summary>
    public PublishTaker? Take { get; set; }

    /// <summary>The channel of the newest connection; null before the first.</summary>
    public BufferedChannel? Channel => _channel;

    public IMqttChannelAdapter CreateClientAdapter(MqttClientOptions options, MqttPacketInspector packetInspector, IMqttNetLogger logger)
    {
        var channel = new BufferedChannel(new MqttTcpChannel(options), readAhead, gate);
        _channel = channel;
        var whole = new MqttChannelAdapter(
            channel, new MqttPacketFormatterAdapter(options.ProtocolVersion, new MqttBufferWriter(options.WriterBufferSize, options.WriterBufferSizeMax)), logger)
        {
            AllowPacketFragmentation = false, // a packet is one write
            PacketInspector = packetInspector,
        };
        var adapter = new KeepAliveAdapter(whole, keepAliveSeconds);
        return Take is { } take ? new DirectAdapter(adapter, channel, take) : adapter;
    }
}
