using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>A machine's time moved from a recording into either store tells the same.</summary>
public sealed class InfluxMoveTests(InfluxShop shop) : IClassFixture<InfluxShop>, IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [SkippableFact]
    public async Task A_recording_replayed_into_InfluxDB_and_into_the_embedded_store_gives_the_same_trends_and_the_same_recording_back()
    {
        var options = shop.Options();
        var recording = _folder.File("bay1.lp");
        await WriteAsync(recording);
        await File.WriteAllTextAsync(_folder.File("influx.json"), $$"""
            {
              "store": { "path": "spool.db", "influx": { "url": "{{options.Influx!.Url}}", "organisation": "shop", "bucket": "{{options.Influx.Bucket}}", "token": { "file": "{{options.Influx.Token!.File}}" } } }
            }
            """);
        await File.WriteAllTextAsync(_folder.File("embedded.json"), """{ "store": { "path": "embedded.db" } }""");

        var told = new Dictionary<string, string>();
        foreach (var store in new[] { "influx", "embedded" })
        {
            var config = _folder.File(store + ".json");
            await RunAsync("replay", recording, "--config", config, "--store");
            var lines = (await RunAsync("record", "bay1", "--out", _folder.File(store + ".lp"), "--config", config), await File.ReadAllLinesAsync(_folder.File(store + ".lp"))).Item2;
            told[store] = string.Join('\n', lines.Where(line => !line.StartsWith('#')).Append(await RunAsync("trend", "bay1", "tube_current", "--format", "json", "--config", config))
                .Append(await RunAsync("trend", "bay1", "coolant_in", "--format", "csv", "--config", config)).Append(await RunAsync("alarms", "bay1", "--config", config)));
        }

        Assert.Contains("\"at\"", told["embedded"], StringComparison.Ordinal);
        Assert.Contains("alarm,machine=bay1,condition=tube-current-sag", told["embedded"], StringComparison.Ordinal);
        Assert.Equal(told["embedded"], told["influx"]);
        await using var influx = InfluxTelemetryStore.OpenForReading(options with { Path = _folder.File("spool.db") }, Microsoft.Extensions.Logging.Abstractions.NullLogger.Instance);
        Assert.Equal((0, 0, 0), influx.ReadWaiting()); // the verb ended only when the server had all
    }

    /// <summary>Forty days with twenty minutes of beam each, of a tube that wears out fast.</summary>
    private static async Task WriteAsync(string path)
    {
        var noise = new Random(20260309);
        var start = new Instant(1773041400000000000);
        var lines = new LineFormatter();
        for (var day = 0; day < 40; day++)
        {
            for (var second = 0; second < 1200; second++)
            {
                var current = (18.2 * (1 - (day * 0.003))) + (0.05 * (noise.NextDouble() - 0.5));
                lines.Measurement(EventLines.Telemetry).Tag("machine", "bay1").Field("lasing", 1).Field("power", 66)
                    .Field("tube_current", Math.Round(current, 2)).Field("coolant_in", Math.Round(20 + noise.NextDouble(), 1));
                lines.Time(start + TimeSpan.FromDays(day) + TimeSpan.FromSeconds(second));
            }
        }

        await File.WriteAllBytesAsync(path, lines.WrittenMemory.ToArray());
    }

    private static async Task<string> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter { NewLine = "\n" };
        using var error = new StringWriter { NewLine = "\n" };
        var exitCode = await Program.RunAsync(arguments, output, error);
        Assert.True(exitCode == 0, error.ToString());
        return output.ToString();
    }
}
