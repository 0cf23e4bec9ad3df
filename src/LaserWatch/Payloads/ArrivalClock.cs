using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>Stamps messages as they arrive: never twice the same time, and never an earlier one while the clock is only set right.</summary>
/// <remarks>
/// Bare numbers carry no time, so that two with the same stamp would be taken for one sample. Where the wall clock was set back by no
/// more than <see cref="SetBackLimit"/>, stamps go on at half speed until it has caught up; where it was set back further, they
/// follow it, since hours of slow time would harm more than a step. Safe for several threads.
/// </remarks>
public sealed class ArrivalClock(TimeProvider time)
{
    /// <summary>How far the wall clock may step back before the stamps step back with it.</summary>
    public static readonly TimeSpan SetBackLimit = TimeSpan.FromSeconds(60);

    private const long LeastStepNanoseconds = 1000;

    private readonly Lock _gate = new();
    private Instant _last = Instant.MinValue;
    private long _lastTimestamp;

    public Instant Next()
    {
        lock (_gate)
        {
            var wall = Instant.From(time.GetUtcNow());
            var timestamp = time.GetTimestamp();
            if (_last == Instant.MinValue || wall.UnixNanoseconds - _last.UnixNanoseconds >= LeastStepNanoseconds)
            {
                _last = wall;
            }
            else if (_last - wall > SetBackLimit)
            {
                _last = wall;
            }
            else
            {
                var half = time.GetElapsedTime(_lastTimestamp, timestamp).Ticks * 100 / 2;
                _last = new(_last.UnixNanoseconds + Math.Max(LeastStepNanoseconds, half));
            }

            _lastTimestamp = timestamp;
            return _last;
        }
    }
}
