using System.Diagnostics;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Benchmarks;

/// <summary>The store as the agent uses it: batches appended, upkeep once an hour of the data's time.</summary>
public static class PackedStore
{
    /// <summary>A watch's saved state, rewritten each hour: part of every real file.</summary>
    private const int StateBytes = 55_000;

    public static async Task<StoreFigures> MeasureAsync(string name, string path, StoreTelemetry telemetry, int batch)
    {
        var write = new Stopwatch();
        var pack = new Stopwatch();
        long live;
        await using (var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path }))
        {
            await FillAsync(store, telemetry, batch, write, pack);
            live = FileBytes(path);
            pack.Start();
            await store.MaintainAsync(telemetry.End + TimeSpan.FromDays(1), default);
            pack.Stop();
        }

        var bytes = FileBytes(path);
        await using var reader = SqliteTelemetryStore.OpenForReading(path);
        await AssertSameAsync(reader, telemetry);
        var (all, scan) = await BestAsync(reader, null);
        var (one, channel) = await BestAsync(reader, [Channel.AirPressure]);
        return new StoreFigures(name, all, one, bytes, live, write.Elapsed.TotalSeconds, pack.Elapsed.TotalSeconds, scan, channel);
    }

    /// <summary>Seconds for writing them all, and for packing them all.</summary>
    public static async Task<(double Append, double Pack)> FillAsync(string path, StoreTelemetry telemetry, int batch)
    {
        var write = new Stopwatch();
        var pack = new Stopwatch();
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path });
        await FillAsync(store, telemetry, batch, write, pack);
        pack.Start();
        await store.MaintainAsync(telemetry.End + TimeSpan.FromDays(1), default);
        pack.Stop();
        return (write.Elapsed.TotalSeconds, pack.Elapsed.TotalSeconds);
    }

    private static async Task FillAsync(ITelemetryStore store, StoreTelemetry telemetry, int batch, Stopwatch write, Stopwatch pack)
    {
        var entry = new StoreBatch();
        var random = new Random(1);
        Instant? upkeep = null;
        foreach (var part in telemetry.Samples.Chunk(batch))
        {
            entry.Clear();
            foreach (var sample in part)
                entry.Samples.Add((StoreTelemetry.Machine, sample));
            var now = part[^1].At;
            var isDue = upkeep is null || now - upkeep >= TimeSpan.FromHours(1);
            if (isDue)
            {
                var state = new byte[StateBytes];
                random.NextBytes(state);
                entry.WatchStates.Add((StoreTelemetry.Machine, state));
                upkeep = now;
            }

            write.Start();
            await store.AppendAsync(entry, default);
            write.Stop();
            if (!isDue)
                continue;
            pack.Start();
            await store.MaintainAsync(now, default);
            pack.Stop();
        }
    }

    /// <exception cref="InvalidOperationException">What is read is not what was written.</exception>
    public static async Task AssertSameAsync(ITelemetryStore store, StoreTelemetry telemetry)
    {
        var at = 0;
        await foreach (var block in store.ReadSampleBlocksAsync(StoreTelemetry.Machine, null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default))
        {
            if (!block.Span.SequenceEqual(telemetry.Samples.AsSpan(at, block.Length)))
                throw new InvalidOperationException("The samples read are not those written.");
            at += block.Length;
        }

        if (at != telemetry.Samples.Length)
            throw new InvalidOperationException("Fewer samples were read than written.");
    }

    /// <summary>The best of some readings: the first ones are compiled while they run, and the machine has other work.</summary>
    private static async Task<(long Samples, double Seconds)> BestAsync(ITelemetryStore store, Channel[]? channels)
    {
        var best = await ScanAsync(store, channels);
        for (var again = 1; again < StoreReport.Readings; again++)
        {
            var next = await ScanAsync(store, channels);
            best = next.Seconds < best.Seconds ? next : best;
        }

        return best;
    }

    private static async Task<(long Samples, double Seconds)> ScanAsync(ITelemetryStore store, Channel[]? channels)
    {
        var watch = Stopwatch.StartNew();
        long count = 0;
        var sum = 0.0;
        await foreach (var block in store.ReadSampleBlocksAsync(StoreTelemetry.Machine, channels, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default))
        {
            count += block.Length;
            foreach (ref readonly var sample in block.Span)
                sum += sample.At.UnixNanoseconds + sample.Value;
        }

        GC.KeepAlive(sum);
        return (count, watch.Elapsed.TotalSeconds);
    }

    /// <summary>Of the whole file, once the log is in it.</summary>
    public static long FileBytes(string path)
    {
        using var connection = new SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = "PRAGMA wal_checkpoint(TRUNCATE)";
        command.ExecuteNonQuery();
        return new FileInfo(path).Length;
    }
}
