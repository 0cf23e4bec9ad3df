using System.Threading.Channels;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Delivery;

/// <summary>Delivers alarms to webhooks, mailboxes and hooks: what was posted is on the disk within moments, and is sent until it is taken.</summary>
/// <remarks>
/// Posting never waits: a bounded queue in memory stands in front of the disk, with one writer behind it. Each outlet has a loop of its
/// own, so that a dead one delays no other. Where no outlet is configured nothing of this exists, and posting does nothing.
/// A change is posted before the sample that made it is stored. Dies the process between the two, then the sample comes again and the
/// change has the same id. The other way round, where the store was quicker than our disk, the store's log has what we lack:
/// <see cref="StartAsync"/> compares the two.
/// </remarks>
public sealed class DeliveryOutbox : IAsyncDisposable
{
    /// <summary>Changes that wait in memory for the disk at most.</summary>
    public const int MostInMemory = 10_000;

    private static readonly TimeSpan LongestNap = TimeSpan.FromSeconds(15); // so that a clock that was set is noticed
    private static readonly TimeSpan ForgetEvery = TimeSpan.FromHours(1);

    private readonly DeliveryRouter _router;
    private readonly FloodOptions _flood;
    private readonly string _path;
    private readonly TimeProvider _time;
    private readonly ILogger<DeliveryOutbox> _logger;
    private readonly Channel<(AlarmChange Change, ChangeOrigin Origin)> _queue;
    private readonly IReadOnlyList<IOutlet> _outlets;
    private readonly CancellationTokenSource _abandoned = new();
    private readonly int _seed;
    private volatile IReadOnlyList<OutletLine> _lines = [];
    private OutboxLedger? _ledger;
    private Task _clerk = Task.CompletedTask;
    private long _dropped;
    private bool _completed;
    private bool _disposed;

    public DeliveryOutbox(LaserWatchOptions options, TimeProvider time, ILogger<DeliveryOutbox> logger)
        : this(options.Delivery, options.Flood, OutboxFile.PathBeside(options.Store.Path), Outlets.Make(options.Delivery, options.Broker.TopicRoot, time), time, Environment.ProcessId, logger)
    {
    }

    internal DeliveryOutbox(
        DeliveryOptions options, FloodOptions flood, string path, IReadOnlyList<IOutlet> outlets, TimeProvider time, int seed, ILogger<DeliveryOutbox> logger, int mostInMemory = MostInMemory)
    {
        _router = new(options);
        _flood = flood;
        _path = path;
        _outlets = outlets;
        _time = time;
        _seed = seed;
        _logger = logger;
        _queue = System.Threading.Channels.Channel.CreateBounded<(AlarmChange, ChangeOrigin)>(new BoundedChannelOptions(mostInMemory) { SingleReader = true });
        LongestRetry = TimeSpan.FromSeconds(options.LongestRetrySeconds);
    }

    /// <summary>True where an outlet is configured.</summary>
    public bool IsOn => _outlets.Count > 0;

    public DeliveryStatus Status => !IsOn ? DeliveryStatus.Off
        : new([.. _lines.Select(line => line.Status)], _queue.Reader.Count, Interlocked.Read(ref _dropped));

    private TimeSpan LongestRetry { get; }

    /// <summary>Opens the outbox, takes what the store knows and it does not, and begins to deliver. Before anything is posted.</summary>
    /// <exception cref="StoreException">The outbox's file cannot be opened.</exception>
    public async Task StartAsync(ITelemetryStore store, CancellationToken stop)
    {
        if (!IsOn)
            return;
        _ledger = new OutboxLedger(_path, _router, _flood, Now());
        var logged = await store.ReadAlarmChangesAsync(null, _ledger.LookBackTo(Now()), Instant.MaxValue, stop);
        if (_ledger.TakeUp(logged, Now()) is var missed and > 0)
            _logger.OutboxMissed(missed);
        foreach (var (outlet, count) in _ledger.DropUnknownOutlets(Now()))
            _logger.OutletGone(count, outlet);
        var retry = new RetryPolicy(TimeSpan.FromSeconds(1), LongestRetry);
        _lines = [.. _outlets.Select((outlet, i) => new OutletLine(outlet, _ledger, retry, _router.Keep, _time, new Random(_seed + i), _logger))];
        _clerk = Task.Run(() => WriteAsync(_ledger), CancellationToken.None);
        foreach (var line in _lines)
            line.Start(_abandoned.Token);
    }

    /// <summary>Queues a change that the watch has found. False: there was no room, which is logged; the next start finds it in the store.</summary>
    public bool Post(AlarmChange change) => Add(change, ChangeOrigin.Live);

    /// <summary>Queues a change that the watch found in what was stored before a restart: it may have been told before, a second off.</summary>
    public bool PostFoundAgain(AlarmChange change) => Add(change, ChangeOrigin.FoundAgain);

    /// <summary>Takes no more, writes what is in memory, and breaks off what is being sent when the time is over: it is sent at the next start.</summary>
    /// <returns>False where something could not be written.</returns>
    public async Task<bool> CompleteAsync(TimeSpan patience)
    {
        if (_completed || !IsOn)
            return true;
        _completed = true;
        _queue.Writer.TryComplete();
        foreach (var line in _lines)
            line.Complete();
        await Task.WhenAll([_clerk, .. _lines.Select(l => l.Ended)]).WaitAsync(patience, _time).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        var written = _clerk.IsCompletedSuccessfully && _queue.Reader.Count == 0;
        await _abandoned.CancelAsync();
        if (_ledger is not null)
            TellWhatIsLeft(_ledger);
        return written;
    }

    public async ValueTask DisposeAsync()
    {
        if (_disposed)
            return;
        _disposed = true;
        await CompleteAsync(TimeSpan.Zero);
        await _abandoned.CancelAsync();
        await Task.WhenAll([_clerk, .. _lines.Select(l => l.Ended)]).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        foreach (var line in _lines)
            line.Dispose();
        foreach (var outlet in _outlets.OfType<IDisposable>())
            outlet.Dispose();
        _ledger?.Dispose();
        _abandoned.Dispose();
    }

    private void TellWhatIsLeft(OutboxLedger ledger)
    {
        try
        {
            foreach (var outlet in _router.Outlets)
            {
                if (ledger.Count(outlet).Waiting is var waiting and > 0)
                    _logger.MessagesLeftWaiting(waiting, outlet);
            }
        }
        catch (Exception fault) // a sick disk, of which the log was told; the rest of the stop must not fail by it
        {
            _logger.OutboxFailing(fault, _path, _queue.Reader.Count);
        }
    }

    private bool Add(AlarmChange change, ChangeOrigin origin)
    {
        if (!IsOn || _queue.Writer.TryWrite((change, origin)))
            return true;
        var dropped = Interlocked.Increment(ref _dropped);
        _logger.OutboxFull(change.Machine, change.Condition, change.State.Name(), dropped);
        return false;
    }

    /// <summary>The one writer: what was posted, and what comes due, until nothing more will be posted.</summary>
    private async Task WriteAsync(OutboxLedger ledger)
    {
        var taken = new List<(AlarmChange, ChangeOrigin)>();
        var failures = 0;
        var forgotten = Now();
        var retry = RetryPolicy.Forever;
        while (true)
        {
            while (_queue.Reader.TryRead(out var offer))
                taken.Add(offer);
            Instant? next;
            try
            {
                if (taken.Count > 0)
                    ledger.Enter(taken, Now());
                taken.Clear();
                next = ledger.BringDue(Now());
                if (Now() - forgotten > ForgetEvery)
                {
                    forgotten = Now();
                    ledger.Forget(forgotten);
                }

                if (failures > 0)
                    _logger.OutboxWorksAgain(_path);
                failures = 0;
            }
            catch (Exception fault) // whatever a disk can do: what was taken stays in memory, and is tried again
            {
                failures++;
                if (failures == 1)
                    _logger.OutboxFailing(fault, _path, taken.Count + _queue.Reader.Count);
                if (_queue.Reader.Completion.IsCompleted && taken.Count > 0)
                    throw; // there is no later
                await Task.Delay(retry.Wait(failures)!.Value, _time, _abandoned.Token);
                continue;
            }

            foreach (var line in _lines)
                line.Wake();
            if (_queue.Reader.Completion.IsCompleted)
                return;
            await SleepAsync(next);
        }
    }

    private async Task SleepAsync(Instant? next)
    {
        var nap = next is { } due && due - Now() is var until && until < LongestNap ? until : LongestNap;
        if (nap <= TimeSpan.Zero)
            return;
        using var over = new CancellationTokenSource();
        var posted = _queue.Reader.WaitToReadAsync(over.Token).AsTask();
        await Task.WhenAny(posted, Task.Delay(nap, _time, over.Token));
        await over.CancelAsync();
        await ((Task)posted).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
    }

    private Instant Now() => Instant.From(_time.GetUtcNow());
}
