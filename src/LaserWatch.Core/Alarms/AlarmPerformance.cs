using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>Counts what an alarm system did in a time, as the performance metrics of ISA-18.2 and IEC 62682 want it counted.</summary>
public static class AlarmPerformance
{
    /// <summary>An alarm that ends by itself within this, unacknowledged, gave nobody time to act. This program's own choice.</summary>
    public static readonly TimeSpan FleetingWithin = TimeSpan.FromSeconds(30);

    /// <summary>In alarm for longer without a break: stale. ISA-18.2-2009 and IEC 62682:2014, from memory.</summary>
    public static readonly TimeSpan StaleAfter = TimeSpan.FromHours(24);

    /// <summary>So many annunciations within <see cref="ChatterWithin"/> are chattering (read at second hand).</summary>
    public const int ChatterAt = 3;

    public static readonly TimeSpan ChatterWithin = TimeSpan.FromMinutes(1);

    public const int MostFrequent = 10;

    private static readonly TimeSpan TenMinutes = TimeSpan.FromMinutes(10);
    private const long NanosecondsPerHour = 3_600_000_000_000;

    /// <summary>The UTC hour an instant is in, counted from 1970.</summary>
    public static long HourOf(Instant at) => Floor(at.UnixNanoseconds, NanosecondsPerHour);

    /// <param name="changes">All transitions before <paramref name="to"/>, those before <paramref name="from"/> too: they tell what stood when it began.</param>
    /// <param name="hoursHeard">UTC hours (<see cref="HourOf"/>) with a stored sample; an hour with a transition counts by itself.</param>
    public static AlarmFigures Of(IEnumerable<AlarmChange> changes, IReadOnlySet<long> hoursHeard, Instant from, Instant to, FloodOptions flood)
    {
        var inOrder = changes.Where(c => c.Time < to).OrderBy(c => c.Time).ToList();
        var within = inOrder.Where(c => c.Time >= from).ToList();
        var called = within.Where(c => c.State == AlarmState.Unacknowledged).ToList();
        var covered = hoursHeard.Where(h => h >= HourOf(from) && h <= HourOf(to - TimeSpan.FromTicks(1)))
            .Concat(within.Select(c => HourOf(c.Time))).ToHashSet();
        var courses = inOrder.GroupBy(c => (c.Machine, c.Condition)).Select(g => new AlarmCourse(g, from, to)).ToList();
        var byHour = called.GroupBy(c => HourOf(c.Time)).Select(g => g.Count()).ToList();
        var byTenMinutes = called.GroupBy(c => Floor(c.Time.UnixNanoseconds, NanosecondsPerHour / 6)).Select(g => g.Count());
        var frequent = Frequencies(called);
        var (floods, inFlood) = Floods(inOrder, from, to, flood);
        return new(
            from, to, covered.Select(h => Floor(h, 24)).Distinct().Count(), covered.Count, (int)Math.Ceiling((to - from).TotalHours),
            called.Count, frequent.Count,
            called.GroupBy(c => Floor(HourOf(c.Time), 24)).Select(g => g.Count()).DefaultIfEmpty().Max(),
            byHour.DefaultIfEmpty().Max(), MostWithin(called.ConvertAll(c => c.Time), TenMinutes),
            byHour.Count(n => n > 30), byTenMinutes.Count(n => n > 10),
            floods, inFlood,
            frequent.Count(a => a.Chattered), courses.Sum(c => c.Fleeting),
            courses.Count(c => c.IsStaleAtEnd), StaleGreatest(courses),
            [.. Enum.GetValues<AlarmPriority>().Select(p => called.Count(c => c.Priority == p))],
            [.. frequent.Take(MostFrequent)],
            [.. courses.SelectMany(c => c.AcknowledgedAfter).Order()], courses.Count(c => c.IsWaiting),
            Silenced(courses, AlarmState.Shelved), Silenced(courses, AlarmState.OutOfService), Silenced(courses, AlarmState.SuppressedByDesign));
    }

    private static Silenced Silenced(List<AlarmCourse> courses, AlarmState state) =>
        new(courses.Sum(c => c.TimesInto(state)), courses.Count(c => c.AtEnd == state));

    private static List<AlarmFrequency> Frequencies(List<AlarmChange> called) =>
    [
        .. called.GroupBy(c => (c.Machine, c.Condition))
            .Select(g => new AlarmFrequency(
                g.Key.Machine, g.Key.Condition, g.Count(), (double)g.Count() / called.Count,
                MostWithin(g.Select(c => c.Time).ToList(), ChatterWithin) >= ChatterAt))
            .OrderByDescending(a => a.Annunciations).ThenBy(a => a.Machine, StringComparer.Ordinal).ThenBy(a => a.Condition, StringComparer.Ordinal),
    ];

    /// <summary>The most of the times, which are in order, that lie within any such span; its far end is open.</summary>
    private static int MostWithin(List<Instant> times, TimeSpan span)
    {
        var most = 0;
        for (int first = 0, last = 0; last < times.Count; last++)
        {
            while (times[last] - times[first] >= span)
                first++;
            most = Math.Max(most, last - first + 1);
        }

        return most;
    }

    /// <summary>Floods that lie in the time, wholly or in part, and how much of the time they take.</summary>
    private static (int Floods, TimeSpan InFlood) Floods(List<AlarmChange> inOrder, Instant from, Instant to, FloodOptions options)
    {
        var watch = new FloodWatch(options);
        var (floods, inFlood, began) = (0, TimeSpan.Zero, Instant.MinValue);
        foreach (var change in inOrder)
            Take(watch.Observe(change));
        Take(watch.Tick(to));
        if (watch.Since is not null)
            End(to);
        return (floods, inFlood);

        void Take(IReadOnlyList<FloodChange> changes)
        {
            foreach (var change in changes)
            {
                if (change.Began)
                    began = change.At;
                else
                    End(change.At);
            }
        }

        void End(Instant at)
        {
            if (at <= from)
                return;
            floods++;
            inFlood += at - (began > from ? began : from);
        }
    }

    private static int StaleGreatest(List<AlarmCourse> courses)
    {
        var byDay = new Dictionary<long, int>();
        foreach (var day in courses.SelectMany(c => c.StaleDays))
            byDay[day] = byDay.GetValueOrDefault(day) + 1;
        return byDay.Values.DefaultIfEmpty().Max();
    }

    internal static long Floor(long value, long by)
    {
        var quotient = Math.DivRem(value, by, out var rest);
        return rest < 0 ? quotient - 1 : quotient;
    }
}
