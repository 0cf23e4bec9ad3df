using System.Globalization;
using System.Runtime.InteropServices;
using System.Text;

namespace LaserWatch.Benchmarks;

/// <summary>The store's table: bytes a sample and samples a second, beside the raw library doing the same in the same run.</summary>
public static class StoreReport
{
    /// <summary>How often everything is read; the best counts.</summary>
    public const int Readings = 7;

    private const int Batch = 5000;

    /// <param name="length">Of the packed store's time; the yardstick and the store of arrival stamps get at most a week of it.</param>
    public static async Task<IReadOnlyList<StoreFigures>> MeasureAsync(TimeSpan length)
    {
        var folder = Directory.CreateTempSubdirectory("laserwatch-bench-").FullName;
        try
        {
            var week = length.TotalDays < 7 ? length : TimeSpan.FromDays(7);
            return
            [
                RawRows.Measure(Path.Combine(folder, "rows.db"), StoreTelemetry.Simulate(week, Stamps.Together), Batch),
                await PackedStore.MeasureAsync("this store", Path.Combine(folder, "store.db"), StoreTelemetry.Simulate(length, Stamps.Together), Batch),
                await PackedStore.MeasureAsync("this store, each channel with its own arrival stamps", Path.Combine(folder, "arrival.db"), StoreTelemetry.Simulate(week, Stamps.OnArrival), Batch),
            ];
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    public static string Print(IReadOnlyList<StoreFigures> rows)
    {
        var text = new StringBuilder();
        text.AppendLine("### Store").AppendLine();
        text.AppendLine(CultureInfo.InvariantCulture, $"Eight channels at 1 Hz. {Environment.ProcessorCount} × {RuntimeInformation.ProcessArchitecture}, {RuntimeInformation.FrameworkDescription}, {RuntimeInformation.OSDescription.Split('-')[0]}. In brackets: times the raw library. Reading: the best of {Readings}.").AppendLine();
        text.AppendLine("| | samples | bytes a sample | with the live hours | written /s | packed /s | scanned /s | one channel /s |");
        text.AppendLine("|---|---:|---:|---:|---:|---:|---:|---:|");
        foreach (var row in rows)
        {
            text.AppendLine(string.Join(" | ",
                $"| {row.Name}", Count(row.Samples), Ratio(row.BytesPerSample, rows[0].BytesPerSample, "0.00"),
                row.LiveBytes == 0 ? "–" : ((double)row.LiveBytes / row.Samples).ToString("0.00", CultureInfo.InvariantCulture),
                Rate(row.WrittenPerSecond, rows[0].WrittenPerSecond), double.IsNaN(row.PackedPerSecond) ? "–" : Count(row.PackedPerSecond),
                Rate(row.ScannedPerSecond, rows[0].ScannedPerSecond), Rate(row.ChannelPerSecond, rows[0].ChannelPerSecond)) + " |");
        }

        return text.AppendLine().ToString();
    }

    private static string Ratio(double value, double yardstick, string format) =>
        string.Create(CultureInfo.InvariantCulture, $"{value.ToString(format, CultureInfo.InvariantCulture)} (× {value / yardstick:0.000})");

    private static string Rate(double value, double yardstick) => string.Create(CultureInfo.InvariantCulture, $"{Count(value)} (× {value / yardstick:0.0})");

    private static string Count(double value) => value switch
    {
        >= 1e6 => string.Create(CultureInfo.InvariantCulture, $"{value / 1e6:0.0} M"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{value / 1e3:0} k"),
    };
}
