using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>A step of the wall clock against time that really passed.</summary>
/// <param name="Before">What the wall clock would show, had it not stepped.</param>
/// <param name="By">How far it stepped; below zero: back.</param>
public readonly record struct ClockJump(Instant Before, TimeSpan By)
{
    public Instant After => Before + By;
}

/// <summary>Time that never jumps, for stamps and ticks; and where the wall clock stands against it.</summary>
/// <remarks>
/// It begins at the wall clock and goes on by the machine's monotonic counter, so between two stamps lies the time that passed, whatever
/// is done to the wall clock. Differences below <see cref="LeastJump"/> are slewed away. A greater one is a jump: <see cref="Look"/> tells
/// of it once, and from then on <see cref="ToWall"/> adds it. Daylight saving cannot matter: all of it is UTC. Safe for several threads.
/// </remarks>
public sealed class SteadyTime : TimeProvider
{
    /// <summary>What a clock that is only disciplined never reaches.</summary>
    public static readonly TimeSpan LeastJump = TimeSpan.FromSeconds(1);

    /// <summary>How long a clock must have held its course after a jump forward before anything is deleted by it.</summary>
    public static readonly TimeSpan Probation = TimeSpan.FromDays(1);

    private static readonly TimeSpan MostSlew = TimeSpan.FromMilliseconds(50);
    private static readonly TimeSpan LongestReading = TimeSpan.FromMilliseconds(100);
    private const int Attempts = 3;

    private readonly TimeProvider _wall;
    private readonly Lock _lock = new();
    private readonly long _begin;
    private readonly long _beginTicks;
    private long _slew;
    private long _newest;
    private long _ahead;
    private long _doubted;
    private long _doubtedSince;
    private long _jumps;
    private ClockJump? _lastJump;
    private long _lastJumpAt;

    public SteadyTime(TimeProvider wall)
    {
        _wall = wall;
        _begin = wall.GetTimestamp();
        _beginTicks = wall.GetUtcNow().UtcTicks;
        _newest = _beginTicks;
    }

    /// <summary>Jumps since the start.</summary>
    public long Jumps => Volatile.Read(ref _jumps);

    /// <summary>The last jump and how long ago it was; null before the first.</summary>
    public (ClockJump Jump, TimeSpan Ago)? LastJump
    {
        get
        {
            lock (_lock)
                return _lastJump is { } jump ? (jump, _wall.GetElapsedTime(_lastJumpAt)) : null;
        }
    }

    /// <summary>The wall clock's time, as far as <see cref="Look"/> has followed it.</summary>
    public Instant Now => ToWall(Instant.From(GetUtcNow()));

    /// <summary>
    /// The same, but without the jumps forward of the last day: for what deletes by age or calls a day over, which a clock that was set
    /// wrongly must not make it do.
    /// </summary>
    public Instant CarefulNow
    {
        get
        {
            lock (_lock)
            {
                var doubted = _wall.GetElapsedTime(_doubtedSince) < Probation ? _doubted : 0;
                return Now - TimeSpan.FromTicks(doubted);
            }
        }
    }

    public override TimeZoneInfo LocalTimeZone => _wall.LocalTimeZone;

    public override long TimestampFrequency => _wall.TimestampFrequency;

    public override long GetTimestamp() => _wall.GetTimestamp();

    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) =>
        _wall.CreateTimer(callback, state, dueTime, period);

    /// <summary>The steady time. It is the wall clock's only until the first jump: see <see cref="ToWall"/>.</summary>
    public override DateTimeOffset GetUtcNow()
    {
        var ticks = _beginTicks + _wall.GetElapsedTime(_begin).Ticks + Volatile.Read(ref _slew);
        while (true)
        {
            // Slewed back between two looks at the counter, it stands still rather than go back.
            var newest = Volatile.Read(ref _newest);
            if (ticks <= newest)
                return new DateTimeOffset(newest, TimeSpan.Zero);
            if (Interlocked.CompareExchange(ref _newest, ticks, newest) == newest)
                return new DateTimeOffset(ticks, TimeSpan.Zero);
        }
    }

    /// <summary>A steady time as the wall clock tells it now.</summary>
    public Instant ToWall(Instant steady) => steady + TimeSpan.FromTicks(Volatile.Read(ref _ahead));

    /// <summary>Compares the two clocks; to be called about once a second.</summary>
    public ClockJump? Look()
    {
        lock (_lock)
        {
            if (Apart() is not { } apart)
                return null;
            if (apart.Duration() < LeastJump)
            {
                var step = apart > MostSlew ? MostSlew : apart < -MostSlew ? -MostSlew : apart;
                Volatile.Write(ref _slew, _slew + step.Ticks);
                return null;
            }

            // Whole milliseconds, so that stamps keep their digits.
            var by = TimeSpan.FromMilliseconds(Math.Round(apart.TotalMilliseconds));
            var jump = new ClockJump(Now, by);
            Volatile.Write(ref _ahead, _ahead + by.Ticks);
            if (_wall.GetElapsedTime(_doubtedSince) >= Probation)
                _doubted = 0;
            _doubted = Math.Max(0, _doubted + by.Ticks);
            if (by > TimeSpan.Zero)
                _doubtedSince = _wall.GetTimestamp();
            Volatile.Write(ref _jumps, _jumps + 1);
            _lastJump = jump;
            _lastJumpAt = _wall.GetTimestamp();
            return jump;
        }
    }

    /// <summary>How far the wall clock is ahead; null where the two could not be read as one.</summary>
    private TimeSpan? Apart()
    {
        for (var i = 0; i < Attempts; i++)
        {
            // A thread that loses the processor between the two readings would see a jump that never was.
            var before = _wall.GetTimestamp();
            var steady = GetUtcNow();
            var wall = _wall.GetUtcNow();
            if (_wall.GetElapsedTime(before) <= LongestReading)
                return wall - steady - TimeSpan.FromTicks(_ahead);
        }

        return null;
    }
}
