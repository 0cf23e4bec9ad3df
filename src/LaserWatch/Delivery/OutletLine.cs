using LaserWatch.Alarms;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Delivery;

/// <summary>Sends what waits for one outlet, in order, until it is taken; keeps count.</summary>
/// <remarks>Killed between the sending and its mark, it sends the message again, under the same id.</remarks>
internal sealed class OutletLine(
    IOutlet outlet, OutboxLedger ledger, RetryPolicy retry, TimeSpan keep, TimeProvider time, Random random, ILogger logger) : IDisposable
{
    // The other side may ask for patience, and not for our silence.
    private static readonly TimeSpan LongestPatience = TimeSpan.FromHours(1);

    private static readonly TimeSpan ShortestPause = TimeSpan.FromSeconds(5);

    private readonly SemaphoreSlim _wake = new(0, 1);
    private readonly CancellationTokenSource _completing = new();
    private volatile OutletStatus _status = new(outlet.Name, 0, 0, 0, 0, 0, 0, null);
    private int _failures;
    private string _lastTold = "";
    private bool _mustWait;

    public OutletStatus Status => _status;

    public Task Ended { get; private set; } = Task.CompletedTask;

    public void Start(CancellationToken abandoned) => Ended = Task.Run(() => SendAsync(abandoned), CancellationToken.None);

    /// <summary>There may be something to send. Any thread.</summary>
    public void Wake()
    {
        if (_wake.CurrentCount > 0)
            return;
        try
        {
            _wake.Release();
        }
        catch (SemaphoreFullException)
        {
            // Somebody else woke it meanwhile.
        }
    }

    /// <summary>No new message is begun; one that is under way goes on until it is abandoned.</summary>
    public void Complete() => _completing.Cancel();

    /// <summary>Only once it has ended.</summary>
    public void Dispose()
    {
        _wake.Dispose();
        _completing.Dispose();
    }

    private async Task SendAsync(CancellationToken abandoned)
    {
        var diskFailures = 0;
        while (!_completing.IsCancellationRequested)
        {
            var wait = Timeout.InfiniteTimeSpan;
            try
            {
                var next = ledger.Next(outlet.Name, Now());
                Count();
                if (next is { } message)
                    wait = await AttemptAsync(message, abandoned);
                diskFailures = 0;
            }
            catch (OperationCanceledException) when (abandoned.IsCancellationRequested)
            {
                return;
            }
            catch (Exception fault) // the outbox's disk, or a fault of the program: this line lives on, and tries again
            {
                diskFailures++;
                if (diskFailures == 1)
                    logger.OutletLineFailed(fault, outlet.Name);
                wait = retry.Wait(diskFailures)!.Value;
            }

            if (wait == Timeout.InfiniteTimeSpan)
                await _wake.WaitAsync(_completing.Token).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            else if (wait > TimeSpan.Zero)
                await PauseAsync(wait);
        }
    }

    /// <summary>Waits, but not to the end where something new has come: an urgent alarm must not sit out the pause that an old outage made long.</summary>
    private async Task PauseAsync(TimeSpan wait)
    {
        using var over = CancellationTokenSource.CreateLinkedTokenSource(_completing.Token);
        var began = time.GetTimestamp();
        var waitingThen = _status.Waiting;
        var pause = Task.Delay(wait, time, over.Token);
        while (!pause.IsCompleted)
        {
            var woken = _wake.WaitAsync(over.Token);
            await Task.WhenAny(pause, woken);
            if (pause.IsCompleted || _completing.IsCancellationRequested)
                break;
            if (!_mustWait && time.GetElapsedTime(began) >= ShortestPause && HasMoreThan(waitingThen))
                break;
        }

        await over.CancelAsync();
        await pause.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
    }

    private bool HasMoreThan(int waitingThen)
    {
        try
        {
            Count();
            return _status.Waiting > waitingThen;
        }
        catch (Exception) // a sick disk: the loop meets it itself, and tells it
        {
            return true;
        }
    }

    /// <returns>How long to wait before the next attempt.</returns>
    private async Task<TimeSpan> AttemptAsync(WaitingMessage waiting, CancellationToken abandoned)
    {
        var message = waiting.Message;
        if (message.Entries.Count == 0 || Now() - message.Due > keep)
        {
            ledger.Settle(waiting.Seq, Settlement.GivenUp, null, Now());
            _status = _status with { Refused = _status.Refused + 1 };
            logger.MessageGivenUp(What(message), outlet.Name, (int)keep.TotalDays);
            return TimeSpan.Zero;
        }

        var answer = await outlet.SendAsync(message, abandoned);
        switch (answer.Outcome)
        {
            case OutletOutcome.Delivered:
                ledger.Settle(waiting.Seq, Settlement.Delivered, null, Now());
                if (_failures > 0)
                    logger.AlarmDeliveryResumed(outlet.Name, _failures);
                if (answer.Why.Length > 0 && answer.Why != _lastTold)
                    logger.PartlyDelivered(outlet.Name, _lastTold = answer.Why);
                _failures = 0;
                _status = _status with { Delivered = _status.Delivered + 1, Late = _status.Late + (message.IsLate ? 1 : 0), FailingSince = null };
                Count();
                return TimeSpan.Zero;
            case OutletOutcome.Refused:
                ledger.Settle(waiting.Seq, Settlement.Refused, answer.Why, Now());
                logger.MessageRefused(outlet.Name, What(message), answer.Why);
                _failures = 0;
                _status = _status with { Refused = _status.Refused + 1, FailingSince = null };
                Count();
                return TimeSpan.Zero;
            default:
                _failures++;
                _status = _status with { Failures = _status.Failures + 1, FailingSince = _status.FailingSince ?? Now() };
                Count();
                if (_failures == 1)
                    logger.AlarmDeliveryFails(outlet.Name, answer.Why, _status.Waiting);
                return Wait(answer.NotBefore);
        }
    }

    private TimeSpan Wait(TimeSpan? notBefore)
    {
        // Up to a quarter off, so that many agents do not all knock at once when a server is back.
        var wait = retry.Wait(_failures)!.Value * (0.75 + (0.25 * random.NextDouble()));
        _mustWait = notBefore is not null;
        if (notBefore is { } asked && asked > wait)
            wait = asked < LongestPatience ? asked : LongestPatience;
        return wait;
    }

    private void Count()
    {
        var (waiting, held) = ledger.Count(outlet.Name);
        _status = _status with { Waiting = waiting, Held = held };
    }

    private static string What(AlarmMessage message) => message.Entries switch
    {
        [] => "nothing any more",
        [var only] => $"{only.Change.Condition} of {only.Change.Machine} ({only.Change.State.Name()})",
        var several => $"{several.Count} alarms, {several[0].Change.Condition} of {several[0].Change.Machine} first",
    };

    private Instant Now() => Instant.From(time.GetUtcNow());
}
