using Microsoft.Extensions.Logging;

namespace LaserWatch.Alarms;

/// <summary>A bounded queue in front of a sink: delivers in the background, in order, and keeps what it could not deliver.</summary>
/// <remarks>
/// Posting never waits, whatever the network does. When the queue is full a transition goes that a later one of the same alarm
/// has overtaken: the newest state of every alarm stays. Any thread may post.
/// </remarks>
public sealed class AlarmOutbox : IAsyncDisposable
{
    /// <summary>Transitions that wait at most: every condition of more than fifty machines.</summary>
    public const int MostWaiting = 1000;

    private readonly IAlarmSink _sink;
    private readonly RetryPolicy _policy;
    private readonly int _mostWaiting;
    private readonly TimeProvider _time;
    private readonly ILogger<AlarmOutbox> _logger;
    private readonly Lock _lock = new();
    private readonly LinkedList<Entry> _waiting = new();
    private readonly SemaphoreSlim _some = new(0);
    private readonly CancellationTokenSource _completing = new();
    private readonly CancellationTokenSource _abandoned = new();
    private readonly Task _delivering;

    public AlarmOutbox(IAlarmSink sink, TimeProvider time, ILogger<AlarmOutbox> logger)
        : this(sink, RetryPolicy.Forever, MostWaiting, time, logger)
    {
    }

    public AlarmOutbox(IAlarmSink sink, RetryPolicy policy, int mostWaiting, TimeProvider time, ILogger<AlarmOutbox> logger)
    {
        _sink = sink;
        _policy = policy;
        _mostWaiting = mostWaiting;
        _time = time;
        _logger = logger;
        _delivering = DeliverAsync();
    }

    public int Waiting
    {
        get
        {
            lock (_lock)
                return _waiting.Count;
        }
    }

    /// <summary>Queues a transition to be announced. False: there was no room, which is logged.</summary>
    public bool Post(AlarmChange change) => Add(new(change, Restated: false));

    /// <summary>Queues a state that was announced before the restart, for sinks that show what stands.</summary>
    public bool Restate(AlarmChange change) => Add(new(change, Restated: true));

    /// <summary>Takes no more, tries what waits once more, and says whether all of it was delivered.</summary>
    public async Task<bool> CompleteAsync(TimeSpan patience)
    {
        await _completing.CancelAsync();
        _some.Release();
        await _delivering.WaitAsync(patience, _time).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        await _abandoned.CancelAsync();
        await _delivering;
        var left = Waiting;
        if (left > 0)
            _logger.AlarmsLeftUndelivered(_sink.Name, left);
        return left == 0;
    }

    public async ValueTask DisposeAsync()
    {
        await _completing.CancelAsync();
        await _abandoned.CancelAsync();
        _some.Release();
        await _delivering;
        _completing.Dispose();
        _abandoned.Dispose();
        _some.Dispose();
    }

    private bool Add(Entry entry)
    {
        lock (_lock)
        {
            var room = !_completing.IsCancellationRequested && (_waiting.Count < _mostWaiting || DropOvertaken(entry));
            if (!room)
            {
                _logger.AlarmGivenUp(_sink.Name, entry.Change.Machine, entry.Change.Condition, entry.Change.State.Name(), "no room to wait");
                return false;
            }

            _waiting.AddLast(entry);
        }

        _some.Release();
        return true;
    }

    /// <summary>Makes room by dropping the oldest transition that a later one, or the newcomer, has overtaken.</summary>
    private bool DropOvertaken(Entry newcomer)
    {
        var newest = new HashSet<(string, string)> { newcomer.Key };
        LinkedListNode<Entry>? overtaken = null;
        for (var node = _waiting.Last; node is not null; node = node.Previous)
        {
            if (!newest.Add(node.Value.Key))
                overtaken = node;
        }

        if (overtaken is null)
            return false;
        _waiting.Remove(overtaken);
        return true;
    }

    private async Task DeliverAsync()
    {
        // The caller's constructor must not do the first delivery.
        await Task.Yield();
        var failures = 0;
        while (await NextAsync() is { } node)
        {
            var change = node.Value.Change;
            var last = _completing.IsCancellationRequested;
            try
            {
                await _sink.DeliverAsync(change, node.Value.Restated, _abandoned.Token);
                if (failures > 0)
                    _logger.AlarmDeliveryResumed(_sink.Name, failures);
                failures = 0;
                Remove(node);
            }
            catch (OperationCanceledException) when (_abandoned.IsCancellationRequested)
            {
                return;
            }
            catch (Exception fault) // whatever a sink throws means: not delivered
            {
                failures++;
                if (failures == 1)
                    _logger.AlarmDeliveryFails(_sink.Name, fault.Message.TrimEnd('.'), Waiting);
                if (last)
                    return;
                if (_policy.Wait(failures) is not { } wait)
                {
                    _logger.AlarmGivenUp(_sink.Name, change.Machine, change.Condition, change.State.Name(), fault.Message);
                    failures = 0;
                    Remove(node);
                    continue;
                }

                await Task.Delay(wait, _time, _completing.Token).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    /// <summary>The first that waits; null where nothing does and nothing more will come.</summary>
    private async Task<LinkedListNode<Entry>?> NextAsync()
    {
        while (true)
        {
            lock (_lock)
            {
                if (_waiting.First is { } first)
                    return first;
            }

            if (_completing.IsCancellationRequested)
                return null;
            await _some.WaitAsync();
        }
    }

    private void Remove(LinkedListNode<Entry> node)
    {
        lock (_lock)
        {
            // It may have been dropped while it was being delivered.
            if (node.List is not null)
                _waiting.Remove(node);
        }
    }

    private sealed record Entry(AlarmChange Change, bool Restated)
    {
        public (string, string) Key => (Change.Machine, Change.Condition);
    }
}
