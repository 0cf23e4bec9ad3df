using System.Threading.Channels;

namespace LaserWatch.Mqtt;

/// <summary>Puts acknowledgements back into the order of receipt, as MQTT wants them [MQTT-4.6.0-2].</summary>
/// <remarks>
/// One connection's line: when the connection is gone, so is the line, and completing a place in it does nothing. Every
/// member may be called from any thread.
/// </remarks>
internal sealed class AcknowledgementLine<T>
{
    private readonly Lock _lock = new();
    private readonly Queue<Place> _places = new();

    // Unbounded, yet never longer than the window of unacknowledged messages that the protocol allows.
    private readonly Channel<T> _ready = Channel.CreateUnbounded<T>(new UnboundedChannelOptions { SingleReader = true });

    /// <summary>What may be acknowledged now, in order. Ends after <see cref="Close"/>.</summary>
    public ChannelReader<T> Ready => _ready.Reader;

    /// <summary>Takes the next place; the call that is returned says that its message is safe.</summary>
    public Action Join(T receipt)
    {
        var place = new Place(this, receipt);
        lock (_lock)
            _places.Enqueue(place);
        return place.Complete;
    }

    public void Close() => _ready.Writer.TryComplete();

    private sealed class Place(AcknowledgementLine<T> line, T receipt)
    {
        private bool _complete;

        public void Complete()
        {
            lock (line._lock)
            {
                _complete = true;
                while (line._places.TryPeek(out var first) && first._complete)
                {
                    line._places.Dequeue();
                    line._ready.Writer.TryWrite(first.Receipt);
                }
            }
        }

        private T Receipt { get; } = receipt;
    }
}
