using System.Globalization;
using System.Threading.Channels;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Plays a recording to a broker by a clock that a person can hold, move and hurry.</summary>
/// <remarks>
/// At a move all that listen are told where they are: the run that was under way ends, services passed over are told, the run
/// under way at the new place begins, and every channel says again what it last said before it. Going back unsays nothing.
/// </remarks>
/// <param name="open">Opens the recording at its beginning; more than once only where there is a timeline to move along.</param>
/// <param name="timeline">Null: the recording can be played forward only.</param>
public sealed class RecordingPlayer(Func<RecordingReader> open, RecordingTimeline? timeline, PlayClock clock, RecordingPublisher publisher, TimeProvider time)
    : IDisposable
{
    // That it was ended, and what is shown of the progress, are looked to so often.
    private static readonly TimeSpan LongestWait = TimeSpan.FromMilliseconds(200);

    private static readonly TimeSpan Rest = TimeSpan.FromMilliseconds(5);

    private readonly Channel<ReplayControl> _controls = System.Threading.Channels.Channel.CreateBounded<ReplayControl>(64);
    private ShownState _shown = new();
    private RecordingReader _reader = open();
    private (Instant At, long Line)? _played;
    private RecordingEvent? _pending;
    private CancellationTokenSource? _wake;
    private bool _ended;
    private bool _hasRested;

    /// <summary>Is told the answer to each control.</summary>
    public Action<string>? Answer { get; init; }

    /// <summary>Called five times a second while it waits, and now and then while it plays.</summary>
    public Action<string>? Progress { get; init; }

    public RecordingCounts Counts => timeline?.Counts ?? _reader.Counts;

    /// <summary>A person ended it.</summary>
    public bool IsEnded => _ended;

    /// <summary>Takes a control from any thread; false where too many wait already.</summary>
    public bool Take(ReplayControl control)
    {
        var taken = _controls.Writer.TryWrite(control);
        try
        {
            Volatile.Read(ref _wake)?.Cancel();
        }
        catch (ObjectDisposedException)
        {
            // The wait has ended by itself: the control is looked at next.
        }

        return taken;
    }

    /// <summary>Plays to the end, or until a person ends it; returns once the broker has taken all of it.</summary>
    /// <exception cref="IOException">The broker did not take a message, or the recording cannot be read on.</exception>
    /// <exception cref="InvalidDataException">The recording's compression is damaged.</exception>
    public async Task RunAsync(CancellationToken stop)
    {
        try
        {
            while (!_ended && Next() is { } e)
            {
                if (!RecordingPublisher.HasTopic(e))
                    continue;
                if (await ComesAsync(e, stop))
                    await PlayAsync(e, stop);
            }
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
            await EndRunsAsync();
            throw;
        }

        if (_ended)
            await EndRunsAsync();
        await publisher.FinishAsync();
    }

    public void Dispose()
    {
        _reader.Dispose();
        _wake?.Dispose();
    }

    private RecordingEvent? Next()
    {
        var e = _pending ?? _reader.Read();
        _pending = null;
        return e;
    }

    private async Task PlayAsync(RecordingEvent e, CancellationToken stop)
    {
        clock.Reach(e.At);
        await publisher.PublishAsync(e, clock.Stamp(e.At), stop);
        if (e.JobRun is { } run)
            _shown.Take(run);
        _played = (e.At, e.Line);
        _hasRested = false;
        if (publisher.Published % 512 == 0)
            Progress?.Invoke(Words());
    }

    /// <summary>Waits until an event is due, and does what is asked meanwhile; false where it is not to be played now.</summary>
    private async Task<bool> ComesAsync(RecordingEvent e, CancellationToken stop)
    {
        clock.Meet(e.At);
        if (!clock.IsHeld && PlayClock.IsLeap(clock.Place, e.At))
            clock.MoveTo(e.At);
        while (true)
        {
            stop.ThrowIfCancellationRequested();
            if (_controls.Reader.TryRead(out var control))
            {
                if (!await DoAsync(control, stop))
                    return false;
                continue;
            }

            var left = clock.Until(e.At);
            if (left <= TimeSpan.Zero)
                return true;
            var wait = left < LongestWait ? InWholeMilliseconds(left.Value) : LongestWait;
            if (wait == TimeSpan.Zero)
                continue;
            _hasRested |= wait >= Rest;
            Progress?.Invoke(Words());
            await WaitAsync(wait, stop);
        }
    }

    // Timers know no less, and wake some milliseconds late. The last part of one is turned through where messages are seldom; where they
    // are close, a processor would turn without end.
    private TimeSpan InWholeMilliseconds(TimeSpan span) =>
        TimeSpan.FromMilliseconds(Math.Max(Math.Floor(span.TotalMilliseconds), _hasRested ? 0 : 1));

    private async Task WaitAsync(TimeSpan span, CancellationToken stop)
    {
        using var wake = CancellationTokenSource.CreateLinkedTokenSource(stop);
        Volatile.Write(ref _wake, wake);
        try
        {
            // A control that came before the wake was there to be used woke nobody.
            if (!_controls.Reader.TryPeek(out _))
                await Task.Delay(span, time, wake.Token).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
        finally
        {
            Volatile.Write(ref _wake, null);
        }
    }

    /// <summary>Returns false where what was to come next comes no more.</summary>
    private async Task<bool> DoAsync(ReplayControl control, CancellationToken stop)
    {
        switch (control)
        {
            case ReplayControl.NotUnderstood(var why):
                Answer?.Invoke(why);
                return true;
            case ReplayControl.Hold:
            case ReplayControl.HoldOrGo when !clock.IsHeld:
                clock.Hold();
                break;
            case ReplayControl.Go or ReplayControl.HoldOrGo:
                clock.Go();
                break;
            case ReplayControl.Pace(var times):
                clock.Play(times);
                break;
            case ReplayControl.End:
                _ended = true;
                Answer?.Invoke($"{Words()}: ended");
                return false;
            default:
                return !await MoveAsync(control, stop);
        }

        Answer?.Invoke(clock.IsHeld && control is ReplayControl.Pace ? string.Create(CultureInfo.InvariantCulture, $"{Words()}, to go on at {clock.Speed:0.###}x") : Words());
        if (clock.IsHeldBack)
            Answer?.Invoke("the times sent now run with the clock, faster than the recording's: an agent believes none ahead of it");
        return true;
    }

    private async Task<bool> MoveAsync(ReplayControl control, CancellationToken stop)
    {
        if (timeline?.First is not { } first)
        {
            Answer?.Invoke("a recording from standard input can only be played forward: write it to a file to move in it");
            return false;
        }

        var what = "";
        Instant target;
        if (control is ReplayControl.Next)
        {
            if (timeline.After(clock.Place) is not { } mark)
            {
                Answer?.Invoke($"{Words()}: nothing more happens after this");
                return false;
            }

            (target, what) = (mark.At, $": {mark.Words}");
        }
        else
        {
            target = control switch
            {
                ReplayControl.MoveTo(var at) => at,
                ReplayControl.MoveBy(var by) => clock.Place + by,
                ReplayControl.MoveToTimeOfDay(var day) => NearestTime(day, first, timeline.Last),
                _ => throw new InvalidOperationException($"Nobody knows how to do {control}."),
            };
        }

        await MoveAsync(target < first ? first : target > timeline.Last ? timeline.Last : target, stop);
        Answer?.Invoke($"{Words()}{what}");
        return true;
    }

    private Instant NearestTime(TimeSpan timeOfDay, Instant first, Instant last)
    {
        var place = clock.Place.ToDateTimeOffset();
        var today = Instant.From(new DateTimeOffset(place.Date, TimeSpan.Zero) + timeOfDay);
        Instant[] days = [today, today + TimeSpan.FromDays(1), today - TimeSpan.FromDays(1)];
        foreach (var at in days)
        {
            if (at >= first && at <= last)
                return at;
        }

        return today;
    }

    private async Task MoveAsync(Instant target, CancellationToken stop)
    {
        var state = new ShownState();
        var passed = new List<ServiceEvent>();
        _reader.Dispose();
        _reader = open();
        while ((_pending = _reader.Read()) is { } e && e.At < target)
        {
            stop.ThrowIfCancellationRequested();
            if (!RecordingPublisher.HasTopic(e))
                continue;
            state.Take(e);
            if (e.Service is { } service && _played is { } played && (e.At, e.Line).CompareTo(played) > 0)
                passed.Add(service);
        }

        clock.MoveTo(target);
        var now = clock.Stamp(target);
        foreach (var run in _shown.Runs)
            await publisher.PublishAsync(run with { Kind = JobEventKind.End }, now, stop);
        foreach (var service in passed)
            await publisher.PublishAsync(service, now, stop);
        foreach (var run in state.Runs)
            await publisher.PublishAsync(run, now, stop);
        foreach (var (machine, value) in state.ValuesAt(target))
            await publisher.PublishAsync(machine, value, now, stop);
        _shown = state;
        _played = (target, long.MinValue);
    }

    /// <summary>Nobody who listens is left with a machine that seems to cut for ever.</summary>
    private async Task EndRunsAsync()
    {
        var now = clock.Stamp(clock.Place);
        foreach (var run in _shown.Runs)
            await publisher.PublishAsync(run with { Kind = JobEventKind.End }, now, CancellationToken.None);
        await publisher.FinishAsync();
    }

    private string Words() => string.Create(
        CultureInfo.InvariantCulture,
        $"{clock.Place} {(clock.IsHeld ? "held" : double.IsInfinity(clock.Speed) ? "playing as fast as it can" : $"playing at {clock.Speed:0.###}x")}");
}
