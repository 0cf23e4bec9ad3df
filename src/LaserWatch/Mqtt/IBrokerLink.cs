using System.Threading.Channels;

namespace LaserWatch.Mqtt;

/// <summary>The way to and from the sensors: a client of an outside broker, or a broker of our own.</summary>
public interface IBrokerLink : IAsyncDisposable
{
    /// <summary>Connects or starts listening, and goes on until stopped: reconnects by itself, with growing waits.</summary>
    Task RunAsync(ChannelWriter<RawMessage> inbox, CancellationToken stop);

    /// <summary>Publishes at QoS 1; returns once the broker has it. Throws where it cannot be handed over now.</summary>
    Task PublishAsync(string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop);

    /// <summary>True while messages can come and go.</summary>
    bool IsConnected { get; }

    /// <summary>Messages that came while the inbox was full (QoS 0 only: others wait at the broker).</summary>
    long Dropped { get; }
}

/// <summary>A message as it came off the wire.</summary>
/// <param name="Payload">The message's own copy, safe to keep until <see cref="Acknowledge"/> is called.</param>
/// <param name="Session">Names the broker session; with <paramref name="PacketId"/> it knows a delivery again.</param>
/// <param name="PacketId">The packet identifier; 0 at QoS 0, which needs no acknowledgement.</param>
/// <param name="SentAgain">The broker's duplicate flag.</param>
/// <param name="Acknowledge">Tells the broker that the message is safe; called exactly once, after the commit. Never throws.</param>
public readonly record struct RawMessage(
    string Topic, ReadOnlyMemory<byte> Payload, Telemetry.Instant Arrival, string Session, ushort PacketId, bool SentAgain,
    bool Retained, Action? Acknowledge);
