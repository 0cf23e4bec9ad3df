using System.Globalization;
using NodaTime;
using NodaTime.TimeZones;
using Instant = LaserWatch.Telemetry.Instant;

namespace LaserWatch.Delivery;

/// <summary>The shop's own clock: rest hours, times to gather for, times in texts.</summary>
/// <remarks>
/// By the time zone data of the library, which is the same on every operating system and needs none installed. A local time that a
/// change of daylight saving leaves out is moved on by the length of the gap; of one that comes twice the first counts. Spans
/// of the night are reckoned as points in time, so that none begins twice in the night in which an hour comes twice.
/// </remarks>
internal sealed class LocalClock
{
    // Met at the first time that is asked for: an agent without outlets needs no zone, whose data are megabytes.
    private readonly Lazy<DateTimeZone> _zone;

    /// <param name="zone">An IANA name; null: this machine's own.</param>
    public LocalClock(string? zone)
    {
        _zone = new(() => zone is null ? OwnZone() : DateTimeZoneProviders.Tzdb[zone]);
    }

    public static bool Knows(string zone) => DateTimeZoneProviders.Tzdb.GetZoneOrNull(zone) is not null;

    public static bool IsTime(string text) => TimeOnly.TryParseExact(text, "HH:mm", CultureInfo.InvariantCulture, DateTimeStyles.None, out _);

    /// <summary>When the rest hours that this point of time lies in are over; null where it lies in none.</summary>
    public Instant? EndOfRest(RestHoursOptions hours, Instant at)
    {
        var (from, to) = (TimeOf(hours.From), TimeOf(hours.To));
        var day = In(at).Date;
        for (var back = 2; back >= 0; back--)
        {
            var first = day.PlusDays(-back);
            var begin = At(first + from);
            var end = At((to > from ? first : first.PlusDays(1)) + to);
            if (begin <= at && at < end)
                return end;
        }

        return null;
    }

    /// <summary>The first of the times of day after a point in time.</summary>
    public Instant Next(IReadOnlyList<string> times, Instant after)
    {
        var day = In(after).Date;
        return Enumerable.Range(0, 3).SelectMany(ahead => times.Select(t => At(day.PlusDays(ahead) + TimeOf(t)))).Where(t => t > after).Min();
    }

    /// <summary>As people write it, with the offset to UTC, since twice a year the hour alone does not tell.</summary>
    public string Text(Instant at) => In(at).ToString("yyyy-MM-dd HH:mm:ss o<+HH:mm>", CultureInfo.InvariantCulture);

    private ZonedDateTime In(Instant at) => NodaTime.Instant.FromUnixTimeTicks(at.UnixNanoseconds / 100).InZone(_zone.Value);

    private Instant At(LocalDateTime local) => new(_zone.Value.ResolveLocal(local, Resolvers.LenientResolver).ToInstant().ToUnixTimeTicks() * 100);

    private static LocalTime TimeOf(string text)
    {
        var time = TimeOnly.ParseExact(text, "HH:mm", CultureInfo.InvariantCulture);
        return new LocalTime(time.Hour, time.Minute);
    }

    /// <summary>UTC where the machine's own zone has a name that the data does not know.</summary>
    private static DateTimeZone OwnZone()
    {
        try
        {
            return DateTimeZoneProviders.Tzdb.GetSystemDefault();
        }
        catch (DateTimeZoneNotFoundException)
        {
            return DateTimeZone.Utc;
        }
    }
}
