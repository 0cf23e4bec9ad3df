using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Puts events right in time that come out of order by up to a window; of one instant, the earlier line comes first.</summary>
/// <remarks>
/// An event is let go once one has come that is newer by the window. What comes later than that is passed on at once.
/// Events in order pass through a queue; only the others go through a heap. It never holds more than <see cref="Most"/>
/// events: a file that stuffs more into one window is put right as far as that reaches.
/// </remarks>
internal sealed class TimeOrder(TimeSpan window)
{
    public const int Most = 1 << 16;

    private readonly long _window = window.Ticks * 100;
    private readonly Queue<RecordingEvent> _inOrder = new();
    private readonly PriorityQueue<RecordingEvent, (Instant At, long Line)> _early = new();
    private Instant _newest = Instant.MinValue;
    private long _letGo = long.MinValue;
    private Instant _tail = Instant.MinValue;

    public bool IsEmpty => _inOrder.Count + _early.Count == 0;

    /// <summary>Events that came after a newer one.</summary>
    public long OutOfOrder { get; private set; }

    public void Add(RecordingEvent e)
    {
        if (e.At < _newest)
        {
            OutOfOrder++;
        }
        else
        {
            _newest = e.At;
            _letGo = e.At.UnixNanoseconds < long.MinValue + _window ? long.MinValue : e.At.UnixNanoseconds - _window;
        }

        if (_inOrder.Count == 0 || e.At >= _tail)
        {
            _inOrder.Enqueue(e);
            _tail = e.At;
        }
        else
        {
            _early.Enqueue(e, (e.At, e.Line));
        }
    }

    /// <summary>Takes the next event, where one can go already; at the end, all can.</summary>
    public RecordingEvent? Take(bool atEnd)
    {
        var fromHeap = false;
        if (!_inOrder.TryPeek(out var next))
        {
            if (!_early.TryPeek(out next, out _))
                return null;
            fromHeap = true;
        }
        else if (_early.Count > 0)
        {
            var early = _early.Peek();
            if (early.At < next.At || (early.At == next.At && early.Line < next.Line))
            {
                next = early;
                fromHeap = true;
            }
        }

        if (!atEnd && next.At.UnixNanoseconds > _letGo && _inOrder.Count + _early.Count < Most)
            return null;
        return fromHeap ? _early.Dequeue() : _inOrder.Dequeue();
    }
}
