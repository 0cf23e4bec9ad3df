namespace LaserWatch.Practice;

/// <summary>How fast the recording's time passes while a person practises, and whether it stands.</summary>
/// <remarks>It stands while the trainee holds it, and while a list is open: at a machine nobody searches in lists.</remarks>
public sealed class PracticePace
{
    public const double Slowest = 1;
    public const double Fastest = 1000;

    /// <summary>After a longer stop of the whole process the recording does not catch up.</summary>
    private static readonly TimeSpan LongestStep = TimeSpan.FromSeconds(1);

    private readonly TimeProvider _clock;
    private long _last;

    public PracticePace(double speed, TimeProvider clock)
    {
        (_clock, Speed) = (clock, speed);
        _last = clock.GetTimestamp();
    }

    public double Speed { get; set; }

    public bool IsHeld { get; set; }

    /// <summary>How much of the recording's time has passed since the last call.</summary>
    public TimeSpan Take(bool isHeld)
    {
        var now = _clock.GetTimestamp();
        var passed = _clock.GetElapsedTime(_last, now);
        _last = now;
        return IsHeld || isHeld ? TimeSpan.Zero : (passed < LongestStep ? passed : LongestStep) * Speed;
    }
}
