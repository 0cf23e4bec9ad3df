using System.Globalization;
using LaserWatch.Mqtt;
using LaserWatch.Storage;
using LaserWatch.Storage.Influx;

namespace LaserWatch.EndToEnd;

/// <summary>The agent with InfluxDB as its store, and the verbs that read it.</summary>
public sealed class InfluxAgentTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [SkippableFact]
    public async Task The_agent_keeps_samples_and_alarms_at_the_server_and_every_verb_reads_them_there()
    {
        await using var broker = await RealBroker.StartAsync();
        Needs.Program("influxd");
        await using var server = await InfluxServer.StartAsync();
        await using var shim = new V2Shim(server.Port);
        server.CreateDatabase("laserwatch");
        var config = Configure(broker.Port, shim.Url);
        var clients = new MosquittoClients(broker.Port);

        // The server comes up later than the agent, and dies while it watches.
        await server.KillAsync();
        using var agent = AgentProcess.Start("run", "--config", config);
        await agent.SaysAsync("nothing is watched; trying on");
        await server.RunAsync();
        await agent.SaysAsync("Connected to the broker");
        await clients.PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(60, i => 200 + i));
        await Eventually.HoldsAsync(
            () => server.Ask("SELECT count(air_pressure) FROM telemetry", "laserwatch") is [var row] && row[1].GetInt64() == 60, () => $"60 samples are at the server; the agent said:\n{agent.Output}");
        await server.KillAsync();
        await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(120, _ => 150).Skip(60));
        await clients.RetainsAsync("laserwatch/bay1/alarm/air-pressure-low", "\"state\":\"unacknowledged\"");
        await agent.SaysAsync("No writing to InfluxDB");

        var (away, _, said) = await AgentProcess.RunAsync("alarms", "--config", config);
        Assert.Equal(3, away);
        Assert.StartsWith($"laserwatch: InfluxDB {shim.Url} (bucket laserwatch) cannot be read: ", said, StringComparison.Ordinal);
        Assert.Equal(1, said.Count(c => c == '\n'));

        await server.RunAsync();
        await agent.SaysAsync("takes writes again");
        var (listed, alarms, _) = await AgentProcess.RunAsync("alarms", "--config", config);
        Assert.Equal(0, listed);
        Assert.Contains("air-pressure-low", alarms, StringComparison.Ordinal);
        var recording = _folder.File("bay1.lp");
        var (recorded, _, error) = await AgentProcess.RunAsync("record", "bay1", "--out", recording, "--config", config);
        Assert.True(recorded == 0, error);
        var lines = await File.ReadAllLinesAsync(recording);
        Assert.Equal(120, lines.Count(line => line.StartsWith("telemetry,machine=bay1 air_pressure=", StringComparison.Ordinal)));
        Assert.Contains(lines, line => line.StartsWith("alarm,machine=bay1,condition=air-pressure-low ", StringComparison.Ordinal));
        Assert.Contains(lines, line => line.StartsWith("job_run,machine=bay1 event=\"start\",job=\"birch-6-cut\"", StringComparison.Ordinal));

        var (added, _, _) = await AgentProcess.RunAsync("jobs", "add", "felt-3-cut", "--air-pressure", "120", "--config", config);
        Assert.Equal(0, added);
        Assert.Equal("felt-3-cut", server.Ask("SELECT air_pressure, job FROM job_record WHERE job = 'felt-3-cut'", "laserwatch")[0][2].GetString());
        var (exitCode, _) = await agent.TerminateAsync(TimeSpan.FromSeconds(10));
        Assert.Equal(0, exitCode);
        var (good, check, _) = await AgentProcess.RunAsync("check", "--offline", "--config", config);
        Assert.Equal(0, good);
        Assert.Contains($"InfluxDB {shim.Url}, bucket laserwatch: good; may be read and written", check, StringComparison.Ordinal);
        Assert.Contains("good; 120 samples of 1 machines\n", check, StringComparison.Ordinal);
    }

    private string Configure(int broker, string url)
    {
        File.WriteAllText(_folder.File("token"), V2Shim.Token + "\n");
        File.WriteAllText(_folder.File("jobs.json"), """
            { "jobs": [ { "job": "birch-6-cut", "power": 66, "airPressure": 210, "tubeCurrent": 18.2, "recordedAt": "2026-01-05" } ] }
            """);
        var config = _folder.File("laserwatch.json");
        File.WriteAllText(config, $$"""
            {
              "broker": { "host": "127.0.0.1", "port": {{broker.ToString(CultureInfo.InvariantCulture)}} },
              "store": {
                "path": "spool.db",
                "influx": { "url": "{{url}}", "organisation": "shop", "bucket": "laserwatch", "token": { "file": "token" }, "intervalMs": 100 }
              }
            }
            """);
        return config;
    }
}
