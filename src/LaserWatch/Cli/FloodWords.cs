using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>Says whether alarms come in a flood now, and what several machines' standing alarms have in common.</summary>
internal static class FloodWords
{
    // A flood that has lasted longer seems to have begun a day ago.
    private static readonly TimeSpan Look = TimeSpan.FromDays(1);

    public static async Task TellAsync(ITelemetryStore store, FloodOptions options, TextWriter error, CancellationToken stop)
    {
        var now = Instant.From(TimeProvider.System.GetUtcNow());
        var watch = new FloodWatch(options);
        var changes = await store.ReadAlarmChangesAsync(null, now - Look, Instant.MaxValue, stop);
        foreach (var change in changes)
            watch.Observe(change);
        watch.Tick(now);
        if (watch.Since is { } since)
            await error.WriteLineAsync($"A flood of alarms since {since}: {watch.Annunciations} so far. Take the root causes first; what they explain is indented.");

        var machines = (await store.ReadMachinesAsync(stop)).Count;
        var standing = changes.GroupBy(c => (c.Machine, c.Condition)).Select(g => g.Last());
        foreach (var cause in CommonCause.In(standing, machines, options))
            await error.WriteLineAsync($"{char.ToUpperInvariant(cause.What[0])}{cause.What[1..]}.");
    }
}
