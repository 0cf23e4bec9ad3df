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
        var place = new Place(receipt);
        lock (_lock)
            _places.Enqueue(place);
        return () => Complete(place);
    }

    public void Close() => _ready.Writer.TryComplete();

    private void Complete(Place place)
    {
        lock (_lock)
        {
            place.IsComplete = true;
            while (_places.TryPeek(out var first) && first.IsComplete)
                _ready.Writer.TryWrite(_places.Dequeue().Receipt);
        }
    }

    private sealed class Place(T receipt)
    {
        public T Receipt => receipt;

        public bool IsComplete { get; set; }
    }
}
