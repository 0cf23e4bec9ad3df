using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Fakes;

/// <summary>A fake clock whose wall can be set while its monotonic counter goes on, as on a computer whose time is put right.</summary>
public sealed class SteppedTimeProvider(DateTimeOffset start) : TimeProvider
{
    private readonly FakeTimeProvider _monotonic = new(start);
    private long _step;

    public override long TimestampFrequency => _monotonic.TimestampFrequency;

    /// <summary>Time passes, on both.</summary>
    public void Advance(TimeSpan by) => _monotonic.Advance(by);

    /// <summary>Somebody sets the wall clock.</summary>
    public void Step(TimeSpan by) => Interlocked.Add(ref _step, by.Ticks);

    public override DateTimeOffset GetUtcNow() => _monotonic.GetUtcNow() + new TimeSpan(Interlocked.Read(ref _step));

    public override long GetTimestamp() => _monotonic.GetTimestamp();

    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) =>
        _monotonic.CreateTimer(callback, state, dueTime, period);
}
