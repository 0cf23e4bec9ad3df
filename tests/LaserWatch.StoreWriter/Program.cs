using System.Globalization;
using LaserWatch.Configuration;
using LaserWatch.Storage;
using LaserWatch.Storage.Influx;
using LaserWatch.Storage.Sqlite;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.StoreWriter;

/// <summary>Appends numbered batches to a store and prints each number after its append returned, until it is killed; upkeep runs beside it all the time.</summary>
/// <remarks>Arguments: the file, the first number, how many, days to keep samples, machines; for InfluxDB also its address, the bucket and the file of the token.</remarks>
internal static class Program
{
    private static async Task Main(string[] args)
    {
        var numbers = args[1..5].Select(text => long.Parse(text, CultureInfo.InvariantCulture)).ToArray();
        var (first, count) = (numbers[0], numbers[1]);
        await using var store = Open(args, (int)numbers[2]);
        var newest = first;
        using var done = new CancellationTokenSource();
        var keeping = Task.Run(async () =>
        {
            // Packing and deleting too must survive being killed at any moment.
            while (!done.IsCancellationRequested)
                await store.MaintainAsync(NumberedBatch.At(Interlocked.Read(ref newest), 0), default);
        });
        var batch = new StoreBatch();
        for (var number = first; number < first + count; number++)
        {
            NumberedBatch.Fill(batch, number, (int)numbers[3]);
            await store.AppendAsync(batch, default);
            Console.WriteLine(number);
            Interlocked.Exchange(ref newest, number);
            if (keeping.IsFaulted)
                break;
        }

        await done.CancelAsync();
        await keeping;
    }

    private static ITelemetryStore Open(string[] args, int keepDays)
    {
        var options = new StoreOptions { Path = args[0], KeepSamplesDays = keepDays };
        if (args.Length == 5)
            return SqliteTelemetryStore.Open(options);
        var influx = new InfluxOptions { Url = args[5], Bucket = args[6], Organisation = "shop", Token = new Secret { File = args[7] }, IntervalMs = 0 };
        return InfluxTelemetryStore.Open(options with { Influx = influx }, TimeSpan.Zero, TimeProvider.System, NullLogger.Instance);
    }
}
