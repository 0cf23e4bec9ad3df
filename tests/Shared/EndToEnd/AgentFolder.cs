using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

/// <summary>A shop's configuration, jobs file and store in a folder of their own, deleted with all in it.</summary>
internal sealed class AgentFolder : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-agent-").FullName;

    /// <param name="broker">The outside broker's port; null: the agent is the broker.</param>
    /// <param name="embedded">The port the agent listens on as the broker.</param>
    /// <param name="health">The keys of <c>health</c>.</param>
    public AgentFolder(int? broker = null, int embedded = 1, string health = "\"port\": 0")
    {
        var host = broker is null ? "null" : "\"127.0.0.1\"";
        File.WriteAllText(Config, $$"""
            {
              "broker": { "host": {{host}}, "port": {{broker ?? 1883}} },
              "embeddedBroker": { "port": {{embedded}} },
              "store": { "path": "laserwatch.db" },
              "health": { {{health}} }
            }
            """);
        File.WriteAllText(Path.Combine(_folder, "jobs.json"), """
            {
              "jobs": [
                { "job": "birch-6-cut", "material": "birch plywood 6 mm", "power": 66, "airPressure": 210, "tubeCurrent": 18.2, "recordedAt": "2026-01-05" }
              ]
            }
            """);
    }

    public string Config => Path.Combine(_folder, "laserwatch.json");

    public string StorePath => Path.Combine(_folder, "laserwatch.db");

    public AgentProcess Run() => AgentProcess.Start("run", "--config", Config);

    /// <summary>Samples stored, as another process may ask at any time.</summary>
    public async Task<long> CountAsync(string machine = "bay1")
    {
        if (!File.Exists(StorePath))
            return 0;
        await using var store = SqliteTelemetryStore.OpenForReading(StorePath);
        return (await store.ReadExtentAsync(machine, CancellationToken.None))?.Count ?? 0;
    }

    public async Task<List<Sample>> SamplesAsync(Channel channel, string machine = "bay1")
    {
        await using var store = SqliteTelemetryStore.OpenForReading(StorePath);
        var samples = new List<Sample>();
        await foreach (var sample in store.ReadSamplesAsync(machine, [channel], Instant.MinValue, Instant.MaxValue, new ChannelTable(), CancellationToken.None))
            samples.Add(sample);
        return samples;
    }

    public async Task<IReadOnlyList<AlarmChange>> AlarmLogAsync(string condition)
    {
        await using var store = SqliteTelemetryStore.OpenForReading(StorePath);
        return [.. (await store.ReadAlarmChangesAsync("bay1", Instant.MinValue, Instant.MaxValue, CancellationToken.None)).Where(c => c.Condition == condition)];
    }

    public async Task<byte[]?> WatchStateAsync()
    {
        await using var store = SqliteTelemetryStore.OpenForReading(StorePath);
        return await store.ReadWatchStateAsync("bay1", CancellationToken.None);
    }

    /// <summary>Payloads that carry their own time, four a second of it from now on, so that a run need not be waited for.</summary>
    public static IEnumerable<string> TimedValues(int count, Func<int, double> value)
    {
        var start = Instant.From(TimeProvider.System.GetUtcNow());
        return Enumerable.Range(1, count).Select(i => string.Create(
            CultureInfo.InvariantCulture, $$"""{"value": {{value(i)}}, "time": "{{Rfc3339.Format(start + TimeSpan.FromSeconds(i * 0.25))}}"}"""));
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);
}
