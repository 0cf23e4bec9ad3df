using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>What the alarms of one machine, or of the whole shop, did.</summary>
/// <param name="Machine">Null for the shop.</param>
/// <param name="NotCovered">Stretches of whole UTC hours with neither a sample nor a transition, in order.</param>
internal sealed record Performance(
    string? Machine, AlarmFigures Figures, IReadOnlyList<PerformanceMeasure> Measures, IReadOnlyList<(Instant From, Instant To)> NotCovered);

/// <param name="Whole">The machine asked for, or the shop.</param>
/// <param name="Machines">Each machine of the shop; empty where one was asked for.</param>
/// <param name="LostSeconds">Time in which samples were lost on their way to the disk; alarms were judged all the same.</param>
internal sealed record PerformanceFound(Performance Whole, IReadOnlyList<Performance> Machines, double LostSeconds);

/// <summary>Reads from the store what the performance of the alarms is made of.</summary>
internal static class PerformanceSource
{
    /// <returns>Null where neither a sample nor a transition is stored in the time.</returns>
    public static async Task<PerformanceFound?> ReadAsync(
        ITelemetryStore store, string? machine, Instant? from, Instant? to, FloodOptions flood, CancellationToken stop)
    {
        var names = machine is null ? await store.ReadMachinesAsync(stop) : [machine];
        var changes = await store.ReadAlarmChangesAsync(machine, Instant.MinValue, to ?? Instant.MaxValue, stop);
        var extents = new List<SampleExtent>();
        foreach (var name in names)
        {
            if (await store.ReadExtentAsync(name, stop) is { } extent)
                extents.Add(extent);
        }

        // Without bounds: what is stored, from the first to the last.
        var ends = extents.SelectMany(e => new[] { e.First, e.Last }).Concat(changes.Select(c => c.Time)).ToList();
        if (ends.Count == 0)
            return null;
        var begin = from ?? ends.Min();
        var end = to ?? ends.Max() + TimeSpan.FromTicks(1);
        if (begin >= end)
            return null;

        var lost = 0.0;
        var heard = new Dictionary<string, HashSet<long>>(StringComparer.Ordinal);
        foreach (var name in names)
        {
            heard.Add(name, await HoursHeardAsync(store, name, begin, end, stop));
            lost += (await store.ReadGapsAsync(name, begin, end, stop)).Sum(gap => gap.To.SecondsSince(gap.From));
        }

        var whole = Of(machine, changes, heard.Values.SelectMany(h => h).ToHashSet(), begin, end, flood);
        if (whole.Figures.CoveredHours == 0)
            return null;
        var machines = machine is not null ? []
            : names.Select(name => Of(name, changes.Where(c => c.Machine == name), heard[name], begin, end, flood)).ToList();
        return new(whole, machines, lost);
    }

    private static Performance Of(
        string? machine, IEnumerable<AlarmChange> changes, HashSet<long> heard, Instant from, Instant to, FloodOptions flood)
    {
        var list = changes.ToList();
        var figures = AlarmPerformance.Of(list, heard, from, to, flood);
        heard.UnionWith(list.Where(c => c.Time >= from).Select(c => AlarmPerformance.HourOf(c.Time)));
        return new(machine, figures, PerformanceStandard.Judge(figures), NotCovered(heard, from, to));
    }

    private static async Task<HashSet<long>> HoursHeardAsync(ITelemetryStore store, string machine, Instant from, Instant to, CancellationToken stop)
    {
        var hours = new HashSet<long>();
        var first = StartOf(AlarmPerformance.HourOf(from));
        foreach (var channel in await store.ReadChannelsAsync(machine, new ChannelTable(), stop))
        {
            await foreach (var hour in store.ReadRollUpsAsync(machine, channel, RollUpSpan.Hour, first, to, stop))
                hours.Add(AlarmPerformance.HourOf(hour.Start));
        }

        return hours;
    }

    private static List<(Instant From, Instant To)> NotCovered(HashSet<long> covered, Instant from, Instant to)
    {
        var found = new List<(Instant From, Instant To)>();
        var last = AlarmPerformance.HourOf(to - TimeSpan.FromTicks(1));
        for (var hour = AlarmPerformance.HourOf(from); hour <= last; hour++)
        {
            if (covered.Contains(hour))
                continue;
            var start = StartOf(hour);
            if (found.Count > 0 && found[^1].To == start)
                found[^1] = (found[^1].From, StartOf(hour + 1));
            else
                found.Add((start, StartOf(hour + 1)));
        }

        return found;
    }

    private static Instant StartOf(long hour) => new(hour * 3_600_000_000_000);
}
