using System.Globalization;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>The embedded store beside rows in the raw library: how fast it takes samples, and what they weigh once their hours are packed.</summary>
public static class StoreBench
{
    private const int Rounds = 3;

    private static readonly int[] Batches = [1000, 5000, 10_000, 50_000];

    public static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        var folder = Directory.CreateTempSubdirectory("laserwatch-bench-").FullName;
        try
        {
            var (writing, weight) = length == Length.Whole ? (TimeSpan.FromDays(2), TimeSpan.FromDays(30)) : (TimeSpan.FromHours(3), TimeSpan.FromHours(12));
            // In so short a time the one saved state of a file, of the same size in a month, weighs a sixth of a byte a sample.
            var period = length == Length.Whole ? "real-shaped month" : "twelve hours and the saved state";
            return
            [
                .. await WritingAsync(folder, StoreTelemetry.Simulate(writing, Stamps.Together), length == Length.Whole ? Rounds : 1, stop),
                await WeightAsync(folder, $"bytes a stored sample, sealed, {period} of eight channels at 1 Hz", StoreTelemetry.Simulate(weight, Stamps.Together)),
                await WeightAsync(folder, "the same where every channel has arrival stamps of its own", StoreTelemetry.Simulate(weight, Stamps.OnArrival)),
                await LongestCommit.MeasureAsync(Path.Combine(folder, "shop.db"), length == Length.Whole ? 200 : 10, stop),
            ];
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>The two change places at every batch size, and the best of each counts.</summary>
    private static async Task<IReadOnlyList<Figure>> WritingAsync(string folder, StoreTelemetry telemetry, int rounds, CancellationToken stop)
    {
        var rows = new Best();
        var appended = new Best();
        var packed = new Best();
        for (var round = 0; round < rounds; round++)
        {
            foreach (var batch in Batches)
            {
                stop.ThrowIfCancellationRequested();
                rows.Add(RawRows.Fill(Path.Combine(folder, $"rows-{round}-{batch}.db"), telemetry, batch), batch);
                var (append, pack) = await PackedStore.FillAsync(Path.Combine(folder, $"store-{round}-{batch}.db"), telemetry, batch);
                appended.Add(append, batch);
                packed.Add(append + pack, batch);
            }
        }

        var samples = telemetry.Samples.Length;
        var raw = $"{rows.Print(samples)}: rows by Microsoft.Data.Sqlite";
        return
        [
            new("store writes: samples a second, durable and read at once", appended.Print(samples), raw, samples / appended.Seconds / 1e3, Goal.AtLeast(150, "k/s"), (10, 20_000)),
            new("the same with the sealing of every hour", packed.Print(samples), raw, samples / packed.Seconds / 1e3, Goal.AtLeast(150, "k/s"), (10, 20_000)),
        ];
    }

    private static async Task<Figure> WeightAsync(string folder, string what, StoreTelemetry telemetry)
    {
        var path = Path.Combine(folder, $"{Guid.NewGuid():N}.db");
        await PackedStore.FillAsync(path, telemetry, Batches[1]);
        await using (var store = SqliteTelemetryStore.OpenForReading(path))
            await PackedStore.AssertSameAsync(store, telemetry);
        var each = (double)PackedStore.FileBytes(path) / telemetry.Samples.Length;
        return new(what, string.Create(CultureInfo.InvariantCulture, $"{each:0.00} B"), "rows: about 24 B; the best lossless chunk tried: 1.0–1.4 B", each, Goal.AtMost(1, "B"), (0.1, 5));
    }

    private sealed class Best
    {
        private int _batch;

        public double Seconds { get; private set; } = double.PositiveInfinity;

        public void Add(double seconds, int batch)
        {
            if (seconds < Seconds)
                (Seconds, _batch) = (seconds, batch);
        }

        public string Print(long samples) =>
            string.Create(CultureInfo.InvariantCulture, $"{samples / Seconds / 1e3:0} k/s, {_batch} a batch");
    }
}
