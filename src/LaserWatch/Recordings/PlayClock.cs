using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Which times the messages of a replay bear.</summary>
public enum Retiming
{
    /// <summary>Times of today, up to the wall clock.</summary>
    Now,

    /// <summary>The recording's own.</summary>
    Original,
}

/// <summary>The place in a recording while it plays, and the times that its messages bear.</summary>
/// <remarks>
/// Times of today run as the recording's do, whatever the speed, so that an agent that listens judges by the time that passed at the
/// machine. They are never ahead of the wall clock, which an agent would not believe, and never go back. So at 1x they begin now; faster,
/// they begin in the past, and at the end they have come up to the wall clock. Where they would pass it, since somebody played faster
/// than at the start or went back, they bear the wall clock's time and run faster than the recording. While it is held they pass as for
/// everybody; over a move they go on.
/// </remarks>
public sealed class PlayClock
{
    /// <summary>A gap of more is leapt over: one absurd time must not hold a replay for years.</summary>
    public static readonly TimeSpan LongestGap = TimeSpan.FromDays(30);

    private readonly TimeProvider _time;
    private readonly Retiming _retiming;
    private readonly Instant _startedAt;
    private readonly long _started;

    // The stretch since the last start, hold, move or change of pace: where and when it began, and what the times are shifted by.
    private Instant _from;
    private Instant _since;
    private TimeSpan _shift;
    private Instant _reached;

    private bool _knowsPlace;

    /// <param name="first">Where the recording begins; null: where its first event is.</param>
    /// <param name="length">How long it takes at 1x; not needed at 1x and for <see cref="Retiming.Original"/>.</param>
    /// <param name="speed">Recording seconds a second; infinite: as fast as the broker takes it.</param>
    public PlayClock(Instant? first, TimeSpan length, double speed, Retiming retiming, TimeProvider time)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(speed);
        (_time, _retiming, Speed) = (time, retiming, speed);
        (_startedAt, _started) = (Instant.From(time.GetUtcNow()), time.GetTimestamp());
        var inThePast = speed <= 1 ? TimeSpan.Zero : length - (length / speed);
        _shift = -inThePast;
        _since = _startedAt;
        if (first is { } known)
            StartFrom(known);
    }

    public double Speed { get; private set; }

    public bool IsHeld { get; private set; }

    /// <summary>True where the times of today have come up to the wall clock and run with it, faster than the recording's.</summary>
    public bool IsHeldBack => _retiming == Retiming.Now && Speed > 1 && !IsHeld && Place + _shift > Now;

    public Instant Place => IsHeld ? _from : double.IsInfinity(Speed) ? _reached : _from + ((Now - _since) * Speed);

    private Instant Now => _startedAt + _time.GetElapsedTime(_started);

    public static bool IsLeap(Instant from, Instant to) => Math.Abs(to.SecondsSince(from)) > LongestGap.TotalSeconds;

    /// <summary>The first event tells where the recording begins, if nothing else did.</summary>
    public void Meet(Instant first)
    {
        if (!_knowsPlace)
            StartFrom(first);
    }

    /// <summary>How long until a time of the recording comes; zero where it has come, null while that is not to be known.</summary>
    public TimeSpan? Until(Instant at)
    {
        var place = Place;
        if (at <= place)
            return TimeSpan.Zero;
        if (IsHeld)
            return null;
        return double.IsInfinity(Speed) ? TimeSpan.Zero : (at - place) / Speed;
    }

    /// <summary>An event of this time is being played.</summary>
    public void Reach(Instant at) => _reached = at;

    /// <summary>The time that a message bears which is due at a time of the recording.</summary>
    public Instant Stamp(Instant at)
    {
        if (_retiming == Retiming.Original)
            return at;
        var due = IsHeld ? _since : double.IsInfinity(Speed) ? Now : _since + ((at - _from) / Speed);
        return Earlier(at + _shift, due);
    }

    public void Hold() => Begin(Place, Speed, held: true);

    public void Go() => Begin(Place, Speed, held: false);

    public void Play(double speed) => Begin(Place, speed, IsHeld);

    public void MoveTo(Instant place) => Begin(place, Speed, IsHeld);

    // The wait for a first event from standard input is none of the recording's time.
    private void StartFrom(Instant first)
    {
        _knowsPlace = true;
        (_from, _reached, _since) = (first, first, Now);
        _shift += _since - first;
    }

    private void Begin(Instant place, double speed, bool held)
    {
        var now = Now;
        var told = IsHeld ? Earlier(_from + _shift, _since) + (now - _since) : Earlier(Place + _shift, now);
        (_from, _reached, _since, _shift) = (place, place, now, told - place);
        (Speed, IsHeld) = (speed, held);
    }

    private static Instant Earlier(Instant a, Instant b) => a < b ? a : b;
}
