using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

/// <summary>Minutes, hours and days of UTC, counted from 1970; before that they are negative.</summary>
internal static class TimeGrid
{
    public const long NanosecondsPerMinute = 60_000_000_000;
    public const long MinutesPerHour = 60;
    public const long HoursPerDay = 24;

    public static long MinuteOf(Instant at) => Floor(at.UnixNanoseconds, NanosecondsPerMinute);

    public static long HourOf(long minute) => Floor(minute, MinutesPerHour);

    /// <summary>Stops at the ends of what an <see cref="Instant"/> can tell.</summary>
    public static Instant StartOfMinute(long minute)
    {
        var start = (Int128)minute * NanosecondsPerMinute;
        return start < long.MinValue ? Instant.MinValue : start > long.MaxValue ? Instant.MaxValue : new Instant((long)start);
    }

    public static long HourOf(Instant at) => HourOf(MinuteOf(at));

    public static long DayOf(long hour) => Floor(hour, HoursPerDay);

    /// <summary>The first nanosecond of a minute.</summary>
    public static long FirstOfMinute(long minute) => StartOfMinute(minute).UnixNanoseconds;

    /// <summary>The last nanosecond of a minute.</summary>
    public static long LastOfMinute(long minute)
    {
        var next = FirstOfMinute(minute + 1);
        return next == long.MaxValue ? next : next - 1;
    }

    /// <summary>The first nanosecond of an hour.</summary>
    public static long FirstOfHour(long hour) => FirstOfMinute(hour * MinutesPerHour);

    /// <summary>The last nanosecond of an hour.</summary>
    public static long LastOfHour(long hour) => LastOfMinute((hour * MinutesPerHour) + MinutesPerHour - 1);

    private static long Floor(long value, long step)
    {
        var whole = Math.DivRem(value, step, out var rest);
        return rest < 0 ? whole - 1 : whole;
    }
}
