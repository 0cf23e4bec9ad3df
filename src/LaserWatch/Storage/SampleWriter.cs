using System.Runtime.CompilerServices;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Storage;

/// <summary>The bounded queue in front of the store: takes entries from any thread without waiting, commits them in the background.</summary>
/// <remarks>
/// Two batches change places: one fills while the other is committed, so that an entry is copied once and allocates nothing.
/// An entry is never split over two transactions. Its callback is called after its commit, in the order of entry, on the
/// background task. While the store fails, the batch is tried again and again and nothing is acknowledged.
/// </remarks>
public sealed class SampleWriter : IAsyncDisposable
{
    private const string QueueFull = "store queue full";
    private const string Refused = "refused by the store";

    private static readonly TimeSpan FirstWait = TimeSpan.FromMilliseconds(250);
    private static readonly TimeSpan LongestWait = TimeSpan.FromSeconds(30);

    private readonly ITelemetryStore _store;
    private readonly SampleWriterOptions _options;
    private readonly TimeProvider _time;
    private readonly ILogger<SampleWriter> _logger;
    private readonly TimeSpan _spacing;
    private readonly TimeSpan _unhurriedSpacing;
    private readonly int _reserve;
    private readonly CancellationTokenSource _cut = new();
    private readonly Sleep _sleep;
    private readonly Task _running;

    private readonly Lock _lock = new();
    private readonly HashSet<PacketDelivery> _waitingDeliveries = [];
    private readonly Dictionary<(string Machine, string Reason), Gap> _lost = [];
    private Side _filling = new();
    private Side _committing = new();
    private TimeSpan _sleepsFor;
    private bool _isCommitting;
    private bool _flush;
    private bool _completed;
    private bool _disposed;
    private long? _lastCommit;
    private long _refused;
    private long _commitBegan;
    private long _refusedSinceCommit;
    private bool _isAsleep;

    public SampleWriter(ITelemetryStore store, SampleWriterOptions options, TimeProvider time, ILogger<SampleWriter> logger)
    {
        _store = store;
        _options = options;
        _time = time;
        _logger = logger;
        _spacing = TimeSpan.FromMilliseconds(options.CommitSpacingMs);
        _unhurriedSpacing = TimeSpan.FromMilliseconds(Math.Max(options.CommitSpacingMs, options.UnhurriedSpacingMs));
        _reserve = options.Capacity / 10;
        _sleep = new(time);
        _cut.Token.Register(_sleep.Wake);
        _running = Task.Run(RunAsync);
    }

    /// <summary>Items that wait for their commit.</summary>
    public int Waiting
    {
        get
        {
            lock (_lock)
                return _filling.Batch.Count + (_isCommitting ? _committing.Batch.Count : 0);
        }
    }

    /// <summary>Items refused since the start because the queue was full.</summary>
    public long RefusedItems => Interlocked.Read(ref _refused);

    /// <summary>True while the store takes nothing.</summary>
    public bool IsStoreFailing { get; private set; }

    /// <summary>How long the batch that is being committed has been at it; null while none is. A disk that hangs fails nothing, and takes nothing.</summary>
    public TimeSpan? CommittingFor => Interlocked.Read(ref _commitBegan) is var began and not 0 ? _time.GetElapsedTime(began) : null;

    /// <summary>Is shown each batch that was kept, on the background task; must not hold on to it, and must not throw.</summary>
    public Action<StoreBatch>? Kept { get; set; }

    /// <summary>Queues what one message gave: all of it in one transaction.</summary>
    /// <param name="entry">Copied: the caller may clear and use it again.</param>
    /// <param name="committed">Called once, after the commit; never where this returns false or the program ends before.</param>
    /// <returns>
    /// False where the queue is full or completed. What was refused is counted and stored as a gap; with a callback its samples do not
    /// count as lost, because the broker still has the message. A tenth of the capacity is kept for entries with events and alarms.
    /// </returns>
    /// <exception cref="ArgumentException">A sample is not finite.</exception>
    public bool TryEnqueue(StoreBatch entry, Action? committed = null)
    {
        ArgumentNullException.ThrowIfNull(entry);
        foreach (var (machine, sample) in entry.Samples)
            RefuseUnlessFinite(machine, sample);
        var items = entry.Count;
        var isPrecious = items > entry.Samples.Count + entry.Deliveries.Count;
        lock (_lock)
        {
            if (!HasRoom(items, isPrecious))
            {
                foreach (var (machine, sample) in entry.Samples)
                    Lose(machine, sample.At, QueueFull, committed is null ? 1 : 0);
                LoseEvents(entry, QueueFull);
                CountRefused(items);
                return false;
            }

            var isFirst = _filling.IsEmpty;
            _filling.Add(entry);
            foreach (var delivery in entry.Deliveries)
                _waitingDeliveries.Add(delivery);
            _filling.IsHurried |= isPrecious;
            Entered(committed, isFirst);
            return true;
        }
    }

    /// <summary>As <see cref="TryEnqueue(StoreBatch, Action?)"/>, for a sample alone.</summary>
    /// <exception cref="ArgumentException">The sample is not finite.</exception>
    public bool TryEnqueue(string machine, in Sample sample, Action? committed = null)
    {
        RefuseUnlessFinite(machine, sample);
        lock (_lock)
        {
            if (!HasRoom(1, precious: false))
            {
                Lose(machine, sample.At, QueueFull, committed is null ? 1 : 0);
                CountRefused(1);
                return false;
            }

            var isFirst = _filling.IsEmpty;
            _filling.Batch.Samples.Add((machine, sample));
            Entered(committed, isFirst);
            return true;
        }
    }

    /// <summary>True where the delivery was kept before, or waits here for its commit.</summary>
    public ValueTask<bool> WasDeliveredAsync(PacketDelivery delivery, CancellationToken stop)
    {
        lock (_lock)
        {
            if (_waitingDeliveries.Contains(delivery))
                return ValueTask.FromResult(true);
        }

        // It leaves the queue only after its commit, so it cannot slip through between the two questions.
        return _store.WasDeliveredAsync(delivery, stop);
    }

    /// <summary>Returns when all that was queued before is committed, however long the store fails.</summary>
    public Task FlushAsync(CancellationToken stop)
    {
        lock (_lock)
        {
            var last = HasWork ? _filling : _isCommitting ? _committing : null;
            if (last is null)
                return Task.CompletedTask;
            last.Done ??= new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
            _flush = true;
            _sleep.Wake();
            return last.Done.Task.WaitAsync(stop);
        }
    }

    /// <summary>Takes no more, and commits what waits.</summary>
    /// <returns>False where the deadline came first. What could not be stored is logged; its messages were never acknowledged.</returns>
    public async ValueTask<bool> CompleteAsync(CancellationToken deadline)
    {
        lock (_lock)
        {
            _completed = true;
            _sleep.Wake();
        }

        try
        {
            await _running.WaitAsync(deadline);
            return true;
        }
        catch (OperationCanceledException)
        {
            await _cut.CancelAsync();
            await _running.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            if (Waiting is var left and > 0)
                _logger.ItemsNotStored(left);
            return false;
        }
    }

    /// <summary>Stops at once; <see cref="CompleteAsync"/> before it loses nothing.</summary>
    public async ValueTask DisposeAsync()
    {
        if (_disposed)
            return;
        _disposed = true;
        await _cut.CancelAsync();
        await CompleteAsync(_cut.Token);
        _cut.Dispose();
        _sleep.Dispose();
    }

    private bool HasWork => !_filling.IsEmpty || _lost.Count > 0;

    private bool IsUrgent =>
        _flush || _completed || _filling.Batch.Count >= _options.BatchItems || _filling.Committed.Count >= _options.BatchAcknowledgements;

    /// <summary>How long after the last commit what waits is committed.</summary>
    private TimeSpan Spacing => _filling.IsHurried || _filling.Committed.Count > 0 ? _spacing : _unhurriedSpacing;

    private bool HasRoom(int items, bool precious) =>
        !_completed && _filling.Batch.Count + items <= (precious ? _options.Capacity : _options.Capacity - _reserve);

    private void Entered(Action? committed, bool isFirst)
    {
        if (committed is not null)
            _filling.Committed.Add(committed);

        if (!_isAsleep || !(isFirst || IsUrgent || Spacing < _sleepsFor))
            return;
        if (SleepsOnFor() is { } wait)
        {
            _sleep.WakeAfter(wait); // who is woken only to wait was woken for nothing
            return;
        }

        _isAsleep = false; // once will do
        _sleep.Wake();
    }

    /// <summary>How much longer what waits may wait; null where it is to be committed now.</summary>
    private TimeSpan? SleepsOnFor()
    {
        _sleepsFor = Spacing;
        var wait = _lastCommit is { } last ? _sleepsFor - _time.GetElapsedTime(last) : TimeSpan.Zero;
        return IsUrgent || wait <= TimeSpan.Zero ? null : wait;
    }

    private static void RefuseUnlessFinite(string machine, in Sample sample)
    {
        if (!double.IsFinite(sample.Value))
            throw new ArgumentException($"A sample of {machine} {sample.Channel} at {sample.At} is not finite.", nameof(sample));
    }

    private void CountRefused(int items)
    {
        if (_refusedSinceCommit == 0 && !_completed)
            _logger.StoreQueueFull(_options.Capacity);
        _refusedSinceCommit += items;
        Interlocked.Add(ref _refused, items);
    }

    private void Lose(string machine, Instant at, string reason, long samples)
    {
        if (!_lost.TryGetValue((machine, reason), out var gap))
            gap = new Gap(machine, at, at, reason, 0);
        _lost[(machine, reason)] = gap with
        {
            From = at < gap.From ? at : gap.From,
            To = at > gap.To ? at : gap.To,
            Lost = gap.Lost + samples,
        };
    }

    private void LoseEvents(StoreBatch entry, string reason)
    {
        foreach (var run in entry.JobRuns)
            Lose(run.Machine, run.At, reason, 0);
        foreach (var service in entry.ServiceEvents)
            Lose(service.Machine, service.At, reason, 0);
        foreach (var change in entry.AlarmChanges)
            Lose(change.Machine, change.Time, reason, 0);
        foreach (var gap in entry.Gaps)
        {
            Lose(gap.Machine, gap.From, reason, gap.Lost);
            Lose(gap.Machine, gap.To, reason, 0);
        }
    }

    private async Task RunAsync()
    {
        try
        {
            while (await WaitForWorkAsync())
            {
                TakeFilled();
                var kept = await CommitAsync(_committing.Batch);
                Interlocked.Exchange(ref _commitBegan, 0);
                if (kept)
                {
                    Kept?.Invoke(_committing.Batch);
                    Acknowledge();
                }

                TaskCompletionSource? done;
                lock (_lock)
                {
                    foreach (var delivery in _committing.Batch.Deliveries)
                        _waitingDeliveries.Remove(delivery);
                    _committing.Clear(out done);
                    _isCommitting = false;
                }

                done?.SetResult();
            }
        }
        finally
        {
            lock (_lock)
            {
                _completed = true;
                _filling.Done?.TrySetCanceled();
                _committing.Done?.TrySetCanceled();
            }
        }
    }

    /// <summary>False when no more will come.</summary>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private async ValueTask<bool> WaitForWorkAsync()
    {
        while (true)
        {
            lock (_lock)
            {
                _isAsleep = false;
                if (!HasWork && _completed)
                    return false;
                TimeSpan? wait = null;
                if (HasWork)
                {
                    wait = SleepsOnFor();
                    if (wait is null)
                        return true;
                }

                _sleep.WakeAfter(wait);
                _isAsleep = true;
            }

            await _sleep.UntilWokenAsync();
            _cut.Token.ThrowIfCancellationRequested();
        }
    }

    private void TakeFilled()
    {
        long refused;
        lock (_lock)
        {
            (_filling, _committing) = (_committing, _filling);
            _isCommitting = true;
            _flush = false;
            _committing.Batch.Gaps.AddRange(_lost.Values);
            _lost.Clear();
            refused = _refusedSinceCommit;
            _refusedSinceCommit = 0;
        }

        if (refused > 0)
            _logger.StoreQueueDrained(refused);
    }

    /// <summary>True once the batch is kept; false where it never can be.</summary>
    private async Task<bool> CommitAsync(StoreBatch batch)
    {
        var began = _time.GetTimestamp();
        Interlocked.Exchange(ref _commitBegan, Math.Max(1, began));
        for (var wait = FirstWait; ; wait = wait * 2 < LongestWait ? wait * 2 : LongestWait)
        {
            try
            {
                await _store.AppendAsync(batch, _cut.Token);
                _lastCommit = _time.GetTimestamp();
                if (IsStoreFailing)
                    _logger.StoreWorksAgain(_time.GetElapsedTime(began));
                IsStoreFailing = false;
                return true;
            }
            catch (OperationCanceledException) when (_cut.IsCancellationRequested)
            {
                throw;
            }
            catch (ArgumentException e)
            {
                // A mistake in this program: trying again would hold up all that comes after it.
                _logger.StoreRefusedBatch(e, batch.Count);
                lock (_lock)
                {
                    foreach (var (machine, sample) in batch.Samples)
                        Lose(machine, sample.At, Refused, 1);
                    LoseEvents(batch, Refused);
                }

                return false;
            }
            catch (Exception e)
            {
                // Whatever a disk or a server can do: the batch stays, and is tried until it is kept or the program ends.
                if (!IsStoreFailing)
                    _logger.StoreFailing(e, batch.Count);
                IsStoreFailing = true;
                await Task.Delay(wait, _time, _cut.Token);
            }
        }
    }

    private void Acknowledge()
    {
        foreach (var committed in _committing.Committed)
        {
            try
            {
                committed();
            }
            catch (Exception e)
            {
                // It promised not to throw. The batch is safe, and the callbacks after this one must come.
                _logger.AcknowledgementFailed(e);
            }
        }
    }

    private sealed class Side
    {
        public readonly StoreBatch Batch = new();
        public readonly List<Action> Committed = [];
        public TaskCompletionSource? Done;

        /// <summary>Holds more than samples.</summary>
        public bool IsHurried;

        public bool IsEmpty => Batch.IsEmpty && Committed.Count == 0;

        public void Add(StoreBatch entry)
        {
            Batch.Samples.AddRange(entry.Samples);
            Batch.JobRecords.AddRange(entry.JobRecords);
            Batch.JobRuns.AddRange(entry.JobRuns);
            Batch.ServiceEvents.AddRange(entry.ServiceEvents);
            Batch.AlarmChanges.AddRange(entry.AlarmChanges);
            Batch.Gaps.AddRange(entry.Gaps);
            Batch.WatchStates.AddRange(entry.WatchStates);
            Batch.Deliveries.AddRange(entry.Deliveries);
        }

        public void Clear(out TaskCompletionSource? done)
        {
            Batch.Clear();
            Committed.Clear();
            IsHurried = false;
            done = Done;
            Done = null;
        }
    }
}
