using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Holds a replay to a speed: recording seconds a second.</summary>
/// <remarks>A gap of more than <see cref="LongestGap"/> is leapt over: one absurd time must not hold a replay for years.</remarks>
/// <param name="speed">1 is real time.</param>
public sealed class ReplayPace(double speed, TimeProvider clock)
{
    // Short waits, so that time passes for the watch while nothing comes, and a stop is heeded at once.
    private static readonly TimeSpan LongestWait = TimeSpan.FromMilliseconds(200);

    public static readonly TimeSpan LongestGap = TimeSpan.FromDays(30);

    private long _startedAt;
    private Instant? _first;
    private Instant _last;

    /// <summary>Waits until it is time for an event; meanwhile tells the recording's time as it passes.</summary>
    public async ValueTask WaitUntilAsync(Instant at, Action<Instant> passTime, Action? onProgress, CancellationToken stop)
    {
        if (_first is not { } first || Math.Abs(at.SecondsSince(_last)) > LongestGap.TotalSeconds)
        {
            _first = _last = at;
            _startedAt = clock.GetTimestamp();
            return;
        }

        _last = at;
        while (true)
        {
            stop.ThrowIfCancellationRequested();
            var passed = clock.GetElapsedTime(_startedAt).TotalSeconds * speed;
            var left = (at.SecondsSince(first) - passed) / speed;
            if (left <= 0)
                return;
            passTime(first + TimeSpan.FromSeconds(passed));
            onProgress?.Invoke();
            await Task.Delay(left < LongestWait.TotalSeconds ? TimeSpan.FromSeconds(left) : LongestWait, clock, stop).ConfigureAwait(false);
        }
    }
}
