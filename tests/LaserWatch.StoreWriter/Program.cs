using System.Globalization;
using LaserWatch.Configuration;
using LaserWatch.Storage;
using LaserWatch.Storage.Influx;
using LaserWatch.Storage.Sqlite;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.StoreWriter;

/// <summary>Appends numbered batches to a store and prints each number after its append returned, until it is killed.</summary>
/// <remarks>Arguments: the file, the first number, how many; for InfluxDB also its address, the bucket and the file of the token.</remarks>
internal static class Program
{
    private static async Task Main(string[] args)
    {
        var first = long.Parse(args[1], CultureInfo.InvariantCulture);
        var count = long.Parse(args[2], CultureInfo.InvariantCulture);
        await using var store = Open(args);
        var batch = new StoreBatch();
        for (var number = first; number < first + count; number++)
        {
            NumberedBatch.Fill(batch, number);
            await store.AppendAsync(batch, default);
            Console.WriteLine(number);

            // Upkeep too must survive being killed at any moment.
            if (number % 37 == 0)
                await store.MaintainAsync(NumberedBatch.At(number, 0), default);
        }
    }

    private static ITelemetryStore Open(string[] args)
    {
        var options = new StoreOptions { Path = args[0] };
        if (args.Length == 3)
            return SqliteTelemetryStore.Open(options);
        var influx = new InfluxOptions { Url = args[3], Bucket = args[4], Organisation = "shop", Token = new Secret { File = args[5] }, IntervalMs = 0 };
        return InfluxTelemetryStore.Open(options with { Influx = influx }, TimeSpan.Zero, TimeProvider.System, NullLogger.Instance);
    }
}
