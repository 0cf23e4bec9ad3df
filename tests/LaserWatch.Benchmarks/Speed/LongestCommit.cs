using System.Diagnostics;
using System.Globalization;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>How long a commit waits at most while the hour of a whole shop is packed.</summary>
public static class LongestCommit
{
    private const int ChannelCount = 8;
    private const int SecondsAnHour = 3600;

    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    private static readonly Channel[] Channels = [.. new ChannelTable().All.Take(ChannelCount)];

    public static async Task<Figure> MeasureAsync(string path, int machines, CancellationToken stop)
    {
        string[] names = [.. Enumerable.Range(0, machines).Select(i => $"bay{i}")];
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path });
        var batch = new StoreBatch();
        for (var second = 0; second < SecondsAnHour; second++)
            await AppendAsync(store, names, second, batch, stop);

        var packing = Task.Run(async () => await store.MaintainAsync(Start + TimeSpan.FromSeconds(SecondsAnHour) + TimeSpan.FromMinutes(11), stop), stop);
        var (longest, commits) = (TimeSpan.Zero, 0);
        for (var second = SecondsAnHour; !packing.IsCompleted; second++, commits++)
        {
            var began = Stopwatch.GetTimestamp();
            await AppendAsync(store, names, second, batch, stop);
            var took = Stopwatch.GetElapsedTime(began);
            longest = took > longest ? took : longest;
            await Task.Delay(TimeSpan.FromMilliseconds(20), stop);
        }

        var packed = await packing;
        if (packed.PackedSamples != (long)machines * ChannelCount * SecondsAnHour)
            throw new InvalidOperationException($"{packed.PackedSamples} samples were packed.");
        return new(
            $"longest commit while an hour of {machines} machines × {ChannelCount} channels is packed", string.Create(CultureInfo.InvariantCulture, $"{longest.TotalMilliseconds:0} ms of {commits} commits"),
            "", longest.TotalMilliseconds, Goal.AtMost(100, "ms"), (0, 2000));
    }

    /// <summary>A second of the whole shop.</summary>
    private static async Task AppendAsync(SqliteTelemetryStore store, string[] machines, int second, StoreBatch batch, CancellationToken stop)
    {
        batch.Clear();
        for (var machine = 0; machine < machines.Length; machine++)
        {
            for (var channel = 0; channel < ChannelCount; channel++)
            {
                var value = Math.Round(20 + (10 * Math.Sin((second + (machine * 7)) / (50.0 + channel))), 1);
                batch.Samples.Add((machines[machine], new Sample(Channels[channel], Start + TimeSpan.FromSeconds(second), value)));
            }
        }

        await store.AppendAsync(batch, stop);
    }
}
