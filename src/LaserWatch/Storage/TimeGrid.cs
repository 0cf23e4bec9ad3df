using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

/// <summary>Minutes and hours of UTC, counted from 1970; before that they are negative.</summary>
internal static class TimeGrid
{
    public const long NanosecondsPerMinute = 60_000_000_000;
    public const long MinutesPerHour = 60;

    public static long MinuteOf(Instant at) => Floor(at.UnixNanoseconds, NanosecondsPerMinute);

    public static long HourOf(long minute) => Floor(minute, MinutesPerHour);

    /// <summary>The first minute that begins at or after <paramref name="at"/>.</summary>
    public static long MinuteFrom(Instant at)
    {
        var minute = MinuteOf(at);
        return StartOfMinute(minute) == at ? minute : minute + 1;
    }

    /// <summary>Stops at the ends of what an <see cref="Instant"/> can tell.</summary>
    public static Instant StartOfMinute(long minute)
    {
        var start = (Int128)minute * NanosecondsPerMinute;
        return start < long.MinValue ? Instant.MinValue : start > long.MaxValue ? Instant.MaxValue : new Instant((long)start);
    }

    private static long Floor(long value, long step)
    {
        var whole = Math.DivRem(value, step, out var rest);
        return rest < 0 ? whole - 1 : whole;
    }
}
