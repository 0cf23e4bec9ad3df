using LaserWatch.Alarms;

namespace LaserWatch.Fakes;

/// <summary>Keeps what was delivered; fails while told to.</summary>
public sealed class CollectingAlarmSink : IAlarmSink
{
    private readonly List<(AlarmChange Change, bool Restated)> _delivered = [];
    private volatile bool _down;
    private int _attempts;

    public string Name => "test";

    public bool Down
    {
        get => _down;
        set => _down = value;
    }

    public int Attempts => Volatile.Read(ref _attempts);

    public IReadOnlyList<(AlarmChange Change, bool Restated)> Delivered
    {
        get
        {
            lock (_delivered)
                return [.. _delivered];
        }
    }

    public Task DeliverAsync(AlarmChange change, bool restated, CancellationToken stop)
    {
        // Looked at before the attempt is counted: who waits for the count may then change it for the next.
        var down = _down;
        Interlocked.Increment(ref _attempts);
        if (down)
            return Task.FromException(new IOException("down"));
        lock (_delivered)
            _delivered.Add((change, restated));
        return Task.CompletedTask;
    }
}
