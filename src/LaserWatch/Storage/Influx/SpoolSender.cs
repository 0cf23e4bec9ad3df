using System.Text;
using LaserWatch.Alarms;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Storage.Influx;

/// <summary>Sends what waits in the spool to the server, oldest first, for as long as it takes.</summary>
/// <remarks>
/// A row leaves the spool only after the server's success, so a death in between sends it again, which changes nothing there. Lines
/// that the server refuses for good are set aside (<see cref="LineSending"/>), so that they hold up nothing; they are tried once more at
/// each start. While address, token or bucket are wrong, everything waits.
/// </remarks>
internal sealed class SpoolSender : IAsyncDisposable
{
    private static readonly RetryPolicy Retry = new(TimeSpan.FromSeconds(0.5), TimeSpan.FromSeconds(30));
    private static readonly TimeSpan LongestRetryAfter = TimeSpan.FromMinutes(5);

    /// <summary>Another process may append too, and cannot wake us.</summary>
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(5);

    private static readonly TimeSpan TellRefusedEvery = TimeSpan.FromMinutes(10);

    private readonly Spool _spool;
    private readonly SemaphoreSlim _writing;
    private readonly InfluxConnection _server;
    private readonly InfluxOptions _options;
    private readonly string _path;
    private readonly Random _jitter;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly SemaphoreSlim _sending = new(1);
    private readonly SemaphoreSlim _wake = new(0, 1);
    private readonly CancellationTokenSource _cut = new();
    private readonly Task _running;
    private long _waiting;
    private volatile bool _idle;
    private long? _refusedToldAt;
    private long _refusedSinceTold;

    /// <param name="spool">Used only while <paramref name="writing"/> is held.</param>
    /// <param name="path">The side file, for messages.</param>
    /// <param name="jitter">Seeded by the caller, differently for each process.</param>
    public SpoolSender(
        Spool spool, SemaphoreSlim writing, InfluxConnection server, InfluxOptions options, string path, Random jitter, TimeProvider time, ILogger logger)
    {
        _spool = spool;
        _writing = writing;
        _server = server;
        _options = options;
        _path = path;
        _jitter = jitter;
        _time = time;
        _logger = logger;
        _running = Task.Run(RunAsync);
    }

    /// <summary>True while the server takes nothing.</summary>
    public bool IsFailing { get; private set; }

    /// <summary>Tells that lines were appended.</summary>
    public void Appended(int lines)
    {
        // What comes while the server is away must not shorten the wait for it.
        if ((Interlocked.Add(ref _waiting, lines) >= _options.BatchLines || (_idle && lines > 0)) && !IsFailing)
            Wake();
    }

    /// <summary>Returns once nothing waits any more.</summary>
    /// <exception cref="InfluxFaultException">The server takes nothing.</exception>
    public async Task FlushAsync(CancellationToken stop)
    {
        while (await SendSomeAsync(stop).ConfigureAwait(false) > 0)
        {
        }
    }

    public async ValueTask DisposeAsync()
    {
        await _cut.CancelAsync().ConfigureAwait(false);
        await _running.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        _cut.Dispose();
        _sending.Dispose();
        _wake.Dispose();
    }

    private async Task RunAsync()
    {
        var stop = _cut.Token;
        var failures = 0;
        long? failingSince = null;
        var refusedTried = 0L;
        long? refusedAtStart = null;
        while (true)
        {
            TimeSpan wait;
            try
            {
                refusedAtStart ??= await LockedAsync(_spool.LastRefused, stop).ConfigureAwait(false);
                var sent = await SendSomeAsync(stop).ConfigureAwait(false);
                if (failingSince is { } since)
                    _logger.InfluxWorksAgain(_server.Where, _time.GetElapsedTime(since));
                (failures, failingSince, IsFailing) = (0, null, false);
                if (sent == 0 && refusedTried < refusedAtStart)
                {
                    refusedTried = await TryRefusedAsync(refusedTried, refusedAtStart.Value, stop).ConfigureAwait(false);
                    continue;
                }

                _idle = sent == 0;
                wait = sent == 0 ? LookEvery : sent >= _options.BatchLines ? TimeSpan.Zero : TimeSpan.FromMilliseconds(_options.IntervalMs);
            }
            catch (Exception fault) when (!stop.IsCancellationRequested)
            {
                // Whatever a server or a disk can do: the lines stay, and are sent until they are taken or the program ends.
                if (failingSince is null)
                    _logger.InfluxFailing(_server.Where, fault.Message, _path);
                failingSince ??= _time.GetTimestamp();
                IsFailing = true;
                wait = WaitAfter(++failures, (fault as InfluxFaultException)?.RetryAfter);
            }

            await PauseAsync(wait, stop).ConfigureAwait(false);
        }
    }

    private TimeSpan WaitAfter(int failures, TimeSpan? retryAfter)
    {
        // Half of the doubled wait, or up to the whole of it: agents must not storm together a server that has just come back.
        var wait = Retry.Wait(failures)!.Value * (0.5 + (0.5 * _jitter.NextDouble()));
        return retryAfter > wait ? TimeSpan.FromTicks(Math.Min(retryAfter.Value.Ticks, LongestRetryAfter.Ticks)) : wait;
    }

    private async Task PauseAsync(TimeSpan wait, CancellationToken stop)
    {
        if (wait <= TimeSpan.Zero)
            return;
        using var woken = CancellationTokenSource.CreateLinkedTokenSource(stop);
        await Task.WhenAny(_wake.WaitAsync(woken.Token), Task.Delay(wait, _time, woken.Token)).ConfigureAwait(false);
        await woken.CancelAsync().ConfigureAwait(false);
        stop.ThrowIfCancellationRequested();
    }

    private void Wake()
    {
        try
        {
            if (_wake.CurrentCount == 0)
                _wake.Release();
        }
        catch (SemaphoreFullException)
        {
            // Another thread was faster; once awake it sees what we have appended.
        }
    }

    /// <summary>Sends the oldest lines; how many, 0 where none wait.</summary>
    /// <exception cref="InfluxFaultException">The server takes nothing.</exception>
    public async Task<int> SendSomeAsync(CancellationToken stop)
    {
        await _sending.WaitAsync(stop).ConfigureAwait(false);
        try
        {
            var rows = await LockedAsync(() => _spool.Take(_options.BatchLines), stop).ConfigureAwait(false);
            if (rows.Count == 0)
                return 0;
            Interlocked.Exchange(ref _waiting, 0);
            var lines = rows.SelectMany(row => SpooledLines.Split(row.Text)).ToList();
            var refused = await new LineSending(_server, _options.BatchLines).SendAsync(lines, stop).ConfigureAwait(false);

            // The server has them: from here on a stop must not make us send them again.
            await LockedAsync(
                () =>
                {
                    _spool.Done(rows, refused);
                    return 0;
                }, CancellationToken.None).ConfigureAwait(false);
            if (refused.Count > 0)
                TellRefused(refused);
            if (IsFailing)
                Wake(); // somebody else than the loop has found out that it works again
            return lines.Count;
        }
        finally
        {
            _sending.Release();
        }
    }

    /// <summary>Tries lines again that were set aside before this start; the number of those tried.</summary>
    private async Task<long> TryRefusedAsync(long after, long upTo, CancellationToken stop)
    {
        var row = await LockedAsync(() => _spool.NextRefused(after, upTo), stop).ConfigureAwait(false);
        if (row is null)
            return upTo;
        try
        {
            await _server.WriteAsync(Encoding.UTF8.GetString(row.Text), stop).ConfigureAwait(false);
        }
        catch (InfluxFaultException fault) when (fault.Kind is InfluxFaultKind.Refused or InfluxFaultKind.TooLarge)
        {
            _logger.InfluxStillRefuses(row.Lines, fault.Message, _path);
            return row.Id;
        }

        await LockedAsync(
            () =>
            {
                _spool.Mended(row);
                return 0;
            }, CancellationToken.None).ConfigureAwait(false);
        _logger.InfluxTookRefused(row.Lines);
        return row.Id;
    }

    private void TellRefused(IReadOnlyList<RefusedLine> refused)
    {
        _refusedSinceTold += refused.Count;
        if (_refusedToldAt is { } told && _time.GetElapsedTime(told) < TellRefusedEvery)
            return;
        _logger.InfluxRefused(_server.Where, _refusedSinceTold, SpooledLines.Shown(refused[0].Line.Span), refused[0].Why, _path);
        _refusedToldAt = _time.GetTimestamp();
        _refusedSinceTold = 0;
    }

    private async Task<T> LockedAsync<T>(Func<T> work, CancellationToken stop)
    {
        await _writing.WaitAsync(stop).ConfigureAwait(false);
        try
        {
            return work();
        }
        finally
        {
            _writing.Release();
        }
    }
}
