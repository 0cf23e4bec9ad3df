using System.Threading.Channels;

namespace LaserWatch.Mqtt;

internal enum Offered
{
    Taken,

    /// <summary>QoS 0 while the inbox was full: gone.</summary>
    Dropped,

    /// <summary>QoS 1 and no room even to wait: must not be acknowledged, so that the broker sends it again.</summary>
    Refused,
}

/// <summary>Passes messages to the bounded inbox without ever holding up the one who brings them.</summary>
/// <remarks>
/// A client library reads on while its handler waits, and piles up what it read without bound; so nothing may wait there.
/// QoS 0 is dropped while the inbox is full. QoS 1 waits here, at most as many as the protocol lets be unacknowledged.
/// </remarks>
internal sealed class InboxFeed(ChannelWriter<RawMessage> inbox, int mostWaiting = InboxFeed.PacketIdentifiers) : IDisposable
{
    /// <summary>MQTT has no more packet identifiers than these, so no more can be under way in one connection.</summary>
    public const int PacketIdentifiers = 65535;

    private readonly Lock _lock = new();
    private readonly Queue<RawMessage> _waiting = new();
    private readonly SemaphoreSlim _someWait = new(0);

    public ChannelWriter<RawMessage> Inbox { get; } = inbox;

    public int Waiting
    {
        get
        {
            lock (_lock)
                return _waiting.Count;
        }
    }

    public Offered Offer(in RawMessage message)
    {
        lock (_lock)
        {
            // In order: nothing overtakes those that wait.
            if (_waiting.Count == 0 && Inbox.TryWrite(message))
                return Offered.Taken;
            if (message.Acknowledge is null)
                return Offered.Dropped;
            if (_waiting.Count >= mostWaiting)
                return Offered.Refused;
            _waiting.Enqueue(message);
            if (_waiting.Count == 1)
                _someWait.Release();
            return Offered.Taken;
        }
    }

    /// <summary>Moves those that wait into the inbox as it empties; returns when the inbox is closed.</summary>
    public async Task PumpAsync(CancellationToken stop)
    {
        while (true)
        {
            await _someWait.WaitAsync(stop);
            while (Waiting > 0)
            {
                if (!await Inbox.WaitToWriteAsync(stop))
                    return;
                lock (_lock)
                {
                    while (_waiting.TryPeek(out var first) && Inbox.TryWrite(first))
                        _waiting.Dequeue();
                }
            }
        }
    }

    public void Dispose() => _someWait.Dispose();
}
