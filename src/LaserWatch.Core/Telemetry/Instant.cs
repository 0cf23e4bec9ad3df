using System.Globalization;

namespace LaserWatch.Telemetry;

/// <summary>A point in time: whole nanoseconds since 1970-01-01T00:00:00Z, without leap seconds.</summary>
/// <remarks>
/// Nanoseconds because a recording carries them and must come back to the last digit; <see cref="DateTimeOffset"/>
/// stops at 100 ns. Holds 1677-09-21 to 2262-04-11. <c>default</c> is the epoch itself.
/// </remarks>
public readonly record struct Instant(long UnixNanoseconds) : IComparable<Instant>
{
    /// <summary>The latest instant that can be told, in 2262.</summary>
    public static readonly Instant MaxValue = new(long.MaxValue);

    /// <summary>The earliest instant that can be told, in 1677.</summary>
    public static readonly Instant MinValue = new(long.MinValue);

    /// <exception cref="OverflowException">The time is outside 1677 to 2262.</exception>
    public static Instant From(DateTimeOffset time) =>
        new(checked((time.UtcTicks - DateTimeOffset.UnixEpoch.UtcTicks) * 100));

    public static Instant FromUnixSeconds(double seconds) => new((long)Math.Round(seconds * 1e9));

    /// <summary>The same point in time, cut to 100 ns.</summary>
    public DateTimeOffset ToDateTimeOffset() =>
        DateTimeOffset.UnixEpoch.AddTicks(Math.DivRem(UnixNanoseconds, 100, out var rest) - (rest < 0 ? 1 : 0));

    public double SecondsSince(Instant earlier) => (UnixNanoseconds - earlier.UnixNanoseconds) * 1e-9;

    public static TimeSpan operator -(Instant later, Instant earlier) =>
        new((later.UnixNanoseconds - earlier.UnixNanoseconds) / 100);

    /// <summary>Stops at the ends of the range instead of wrapping round.</summary>
    public static Instant operator +(Instant at, TimeSpan span) => at.PlusNanoseconds(span.Ticks);

    public static Instant operator -(Instant at, TimeSpan span) => at.PlusNanoseconds(-span.Ticks);

    public static bool operator <(Instant a, Instant b) => a.UnixNanoseconds < b.UnixNanoseconds;

    public static bool operator >(Instant a, Instant b) => a.UnixNanoseconds > b.UnixNanoseconds;

    public static bool operator <=(Instant a, Instant b) => a.UnixNanoseconds <= b.UnixNanoseconds;

    public static bool operator >=(Instant a, Instant b) => a.UnixNanoseconds >= b.UnixNanoseconds;

    public int CompareTo(Instant other) => UnixNanoseconds.CompareTo(other.UnixNanoseconds);

    /// <summary>RFC 3339 in UTC with milliseconds, such as <c>2026-03-09T08:00:00.250Z</c>.</summary>
    public override string ToString() =>
        ToDateTimeOffset().ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture);

    private Instant PlusNanoseconds(long ticks)
    {
        const long MostTicks = long.MaxValue / 100;
        if (ticks is <= MostTicks and >= -MostTicks)
        {
            var added = ticks * 100;
            var sum = unchecked(UnixNanoseconds + added);
            // It has wrapped round where both have a sign that the sum has not.
            return ((UnixNanoseconds ^ sum) & (added ^ sum)) >= 0 ? new(sum) : added > 0 ? MaxValue : MinValue;
        }

        var wide = (Int128)UnixNanoseconds + ((Int128)ticks * 100);
        return wide > long.MaxValue ? MaxValue : wide < long.MinValue ? MinValue : new((long)wide);
    }
}
