using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>The UTC day of an instant, and its bounds.</summary>
public static class UtcDay
{
    private const long NanosecondsPerDay = 86_400_000_000_000;

    private static readonly int Epoch = new DateOnly(1970, 1, 1).DayNumber;

    public static DateOnly Of(Instant at)
    {
        var days = Math.DivRem(at.UnixNanoseconds, NanosecondsPerDay, out var within);
        return DateOnly.FromDayNumber(Epoch + (int)(within < 0 ? days - 1 : days));
    }

    /// <summary>The day of a minute, counted since 1970-01-01T00:00Z.</summary>
    public static DateOnly OfMinute(long minute) => DateOnly.FromDayNumber(Epoch + (int)Math.Floor(minute / 1440.0));

    /// <summary>The first instant of the day; stops at the ends of what an instant can tell.</summary>
    public static Instant Start(DateOnly day) => new Instant(0) + TimeSpan.FromDays(day.DayNumber - Epoch);

    /// <summary>The first instant after the day.</summary>
    public static Instant End(DateOnly day) => new Instant(0) + TimeSpan.FromDays(day.DayNumber - Epoch + 1);

    /// <summary>The minute's place in its day, 0 to 1439.</summary>
    public static int MinuteOfDay(long minute) => (int)(((minute % 1440) + 1440) % 1440);
}
