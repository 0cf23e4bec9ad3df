using System.Threading.Channels;

namespace LaserWatch.Storage;

/// <summary>Lets one task sleep until it is woken, or a time is over; made once, since a sleep by a delay and a task of its own would allocate each time.</summary>
/// <remarks>Any thread may wake. Who is woken looks for himself why: it may have been meant for the sleep before.</remarks>
internal sealed class Sleep : IDisposable
{
    private readonly Channel<bool> _wakes = Channel.CreateBounded<bool>(new BoundedChannelOptions(1) { SingleReader = true, FullMode = BoundedChannelFullMode.DropWrite });
    private readonly ITimer _timer;

    public Sleep(TimeProvider time) =>
        _timer = time.CreateTimer(static sleep => ((Sleep)sleep!).Wake(), this, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);

    public void Wake() => _wakes.Writer.TryWrite(true);

    /// <summary>From now on, in place of what was set before.</summary>
    /// <param name="longest">Rounded up to whole milliseconds. Null: until somebody wakes.</param>
    public void WakeAfter(TimeSpan? longest)
    {
        // Timers count whole milliseconds and forget the rest, so that the sleeper would be awake for the last part of one again and again.
        var due = longest is { } time ? TimeSpan.FromMilliseconds(Math.Ceiling(time.TotalMilliseconds)) : Timeout.InfiniteTimeSpan;
        _timer.Change(due, Timeout.InfiniteTimeSpan);
    }

    public ValueTask<bool> UntilWokenAsync() => _wakes.Reader.ReadAsync();

    public void Dispose() => _timer.Dispose();
}
