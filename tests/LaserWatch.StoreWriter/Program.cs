using System.Globalization;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;

namespace LaserWatch.StoreWriter;

/// <summary>Appends numbered batches to a store and prints each number after its append returned, until it is killed.</summary>
/// <remarks>Arguments: the file, the first number, how many.</remarks>
internal static class Program
{
    private static async Task Main(string[] args)
    {
        var first = long.Parse(args[1], CultureInfo.InvariantCulture);
        var count = long.Parse(args[2], CultureInfo.InvariantCulture);
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = args[0] });
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
}
