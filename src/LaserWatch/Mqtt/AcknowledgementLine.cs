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

    // Used again, so that a message allocates none; never more than the longest line there was.
    private readonly Stack<Place> _free = new();

    // Unbounded, yet never longer than the window of unacknowledged messages that the protocol allows.
    private readonly Channel<T> _ready = Channel.CreateUnbounded<T>(new UnboundedChannelOptions { SingleReader = true });

    /// <summary>What may be acknowledged now, in order. Ends after <see cref="Close"/>.</summary>
    public ChannelReader<T> Ready => _ready.Reader;

    /// <summary>Takes the next place; the call that is returned says that its message is safe, and is good for one time.</summary>
    public Action Join(T receipt)
    {
        lock (_lock)
        {
            if (!_free.TryPop(out var place))
                place = new Place(this);
            _places.Enqueue(place);
            return place.Take(receipt);
        }
    }

    public void Close() => _ready.Writer.TryComplete();

    private sealed class Place
    {
        private readonly AcknowledgementLine<T> _line;
        private readonly Action _complete;
        private T? _receipt;
        private bool _isComplete;

        public Place(AcknowledgementLine<T> line)
        {
            _line = line;
            _complete = Complete;
        }

        public Action Take(T receipt)
        {
            _receipt = receipt;
            _isComplete = false;
            return _complete;
        }

        private void Complete()
        {
            lock (_line._lock)
            {
                _isComplete = true;
                while (_line._places.TryPeek(out var first) && first._isComplete)
                {
                    _line._places.Dequeue();
                    _line._ready.Writer.TryWrite(first._receipt!);
                    first._receipt = default;
                    _line._free.Push(first);
                }
            }
        }
    }
}
