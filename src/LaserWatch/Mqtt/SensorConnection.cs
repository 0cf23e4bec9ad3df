using System.Net;
using MQTTnet.Packets;
using MQTTnet.Protocol;

namespace LaserWatch.Mqtt;

/// <summary>One client of the embedded broker: sends its acknowledgements, when the messages are safe and not before.</summary>
/// <remarks>
/// The server library acknowledges as soon as its handler returns. To wait in the handler would hold up everything else of
/// this client, one commit for each message; so the library's own acknowledgements are held back and ours go out instead.
/// </remarks>
/// <param name="rights">Of whom it logged in as.</param>
internal sealed class SensorConnection(NamingChannel channel, EndPoint endPoint, string clientId, ClientRights rights)
{
    private readonly Lock _lock = new();
    private readonly AcknowledgementLine<MqttPacketWithIdentifier> _line = new();
    private readonly Dictionary<ushort, int> _heldBack = [];
    private readonly HashSet<ushort> _pending = [];

    public EndPoint EndPoint { get; } = endPoint;

    public ClientRights Rights { get; } = rights;

    public string Session { get; } = EmbeddedBrokerLink.SessionOf(clientId, rights);

    /// <summary>The library's token of this connection, once it is known: its events share nothing else that is exact.</summary>
    public CancellationToken Token { get; set; }

    /// <summary>The packet that is being handled; the library handles one at a time.</summary>
    public MqttPublishPacket? Current { get; set; }

    /// <summary>Begins to hold back the acknowledgement of a QoS 1 or 2 message. Null where the same packet is under way already.</summary>
    public Action? Hold(MqttPublishPacket packet)
    {
        var id = packet.PacketIdentifier;
        MqttPacketWithIdentifier receipt = packet.QualityOfServiceLevel == MqttQualityOfServiceLevel.ExactlyOnce
            ? new MqttPubRecPacket { PacketIdentifier = id }
            : new MqttPubAckPacket { PacketIdentifier = id };
        lock (_lock)
        {
            _heldBack[id] = _heldBack.GetValueOrDefault(id) + 1;
            return _pending.Add(id) ? _line.Join(receipt) : null;
        }
    }

    /// <summary>True for an acknowledgement of the library's in whose place ours goes out.</summary>
    public bool HoldsBack(MqttPacket packet)
    {
        if (packet is not (MqttPubAckPacket or MqttPubRecPacket))
            return false;
        var id = ((MqttPacketWithIdentifier)packet).PacketIdentifier;
        lock (_lock)
        {
            if (!_heldBack.TryGetValue(id, out var count))
                return false;
            if (count == 1)
                _heldBack.Remove(id);
            else
                _heldBack[id] = count - 1;
            return true;
        }
    }

    /// <summary>Ends after <see cref="Close"/>; cannot fault.</summary>
    public Task Acknowledging { get; private set; } = Task.CompletedTask;

    /// <summary>Begins to send what is ready.</summary>
    public void Start(Action<Exception> lost) => Acknowledging = AcknowledgeAsync(lost);

    public void Close() => _line.Close();

    private async Task AcknowledgeAsync(Action<Exception> lost)
    {
        await foreach (var receipt in _line.Ready.ReadAllAsync())
        {
            lock (_lock)
                _pending.Remove(receipt.PacketIdentifier);
            try
            {
                await channel.SendPacketAsync(receipt, CancellationToken.None);
            }
            catch (Exception e) when (e is not OutOfMemoryException)
            {
                // Gone, whatever the library calls it: the sensor will send the message again.
                lost(e);
                return;
            }
        }
    }
}
