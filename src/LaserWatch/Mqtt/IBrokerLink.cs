using System.Buffers;
using System.Threading.Channels;

namespace LaserWatch.Mqtt;

/// <summary>The way to and from the sensors: a client of an outside broker, or a broker of our own.</summary>
public interface IBrokerLink : IAsyncDisposable
{
    /// <summary>Connects or starts listening, and goes on until stopped: reconnects by itself, with growing waits.</summary>
    /// <param name="inbox">Bounded. Links write, and look how much waits in it.</param>
    /// <remarks>On stop says <c>offline</c> for every machine announced and then good-bye; takes little more than 1 s for it.</remarks>
    Task RunAsync(Channel<RawMessage> inbox, CancellationToken stop);

    /// <summary>Publishes at QoS 1; returns once the broker has it.</summary>
    /// <exception cref="IOException">It cannot be handed over now.</exception>
    Task PublishAsync(string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop);

    /// <summary>From now on the machine's status topic turns to <c>offline</c> when the agent dies. Safe to call again, from any thread.</summary>
    void Announce(string machine);

    /// <summary>True while messages can come and go.</summary>
    bool IsConnected { get; }

    /// <summary>
    /// Connections made so far. Has it grown, a will may have come out: what the status topics say must be said again.
    /// </summary>
    long Connections { get; }

    /// <summary>Messages that came while the inbox was full (QoS 0 only: others wait at the broker).</summary>
    long Dropped { get; }

    /// <summary>Messages and subscriptions that a client had no right to; an outside broker refuses by itself and does not tell.</summary>
    long Refused => 0;
}

/// <summary>A message as it came off the wire.</summary>
/// <param name="Session">Names the broker session; with <paramref name="PacketId"/> it knows a delivery again.</param>
/// <param name="PacketId">The packet identifier; 0 at QoS 0, which needs no acknowledgement.</param>
/// <param name="SentAgain">The broker's duplicate flag.</param>
/// <param name="Acknowledge">Tells the broker that the message is safe; called exactly once, after the commit. Never throws.</param>
/// <param name="Sender">Who published it, as the embedded broker knows; null from an outside broker, which does not tell.</param>
public readonly record struct RawMessage(
    string Topic, ReadOnlyMemory<byte> Payload, Telemetry.Instant Arrival, string Session, ushort PacketId, bool SentAgain,
    bool Retained, Action? Acknowledge, ClientRights? Sender = null)
{
    /// <summary>The payload where it is: the library copies each into an array of its own, and never uses it again.</summary>
    internal static ReadOnlyMemory<byte> Whole(in ReadOnlySequence<byte> payload) => payload.IsSingleSegment ? payload.First : payload.ToArray();
}
