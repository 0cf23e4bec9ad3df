using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

/// <summary>A trainees' agent beside a replay: what comes of it is marked as training wherever it goes.</summary>
public sealed class TrainingDataTests
{
    [SkippableFact]
    public async Task What_a_trainees_agent_raises_and_stores_can_nowhere_pass_for_a_real_machine_s()
    {
        await using var broker = await RealBroker.StartAsync();
        using var folder = new AgentFolder(broker.Port);
        File.WriteAllText(folder.Config, File.ReadAllText(folder.Config).Replace("\"broker\": {", "\"broker\": { \"topicRoot\": \"training/laserwatch\",", StringComparison.Ordinal));
        var clients = new MosquittoClients(broker.Port);
        var beside = Path.GetDirectoryName(folder.Config)!;
        using (var agent = folder.Run())
        {
            await agent.SaysAsync("Connected to the broker");

            // A run with a minute of low air, half an hour in nine seconds.
            var recording = Write(beside, "low.lp", Lines(new(1_773_041_400_000_000_000)));
            var (exit, _, error) = await AgentProcess.RunAsync("replay", recording, "--to", $"mqtt://127.0.0.1:{broker.Port}", "--speed", "200");
            Assert.Equal((0, ""), (exit, error));

            await agent.SaysAsync("bay1: air-pressure-low unacknowledged");
            var alarm = await clients.RetainsAsync("training/laserwatch/bay1/alarm/air-pressure-low", "unacknowledged");
            using var json = JsonDocument.Parse(alarm);
            Assert.Equal("a replayed recording", json.RootElement.GetProperty("evidence").GetProperty("training").GetString());
            Assert.StartsWith("Training, no real machine: ", json.RootElement.GetProperty("message").GetString(), StringComparison.Ordinal);
            await Eventually.HoldsAsync(async () => (await folder.AlarmLogAsync(Conditions.AirPressureLow)).Count > 0, () => "the store holds it");

            // The watch at the broker judged by the time of the recording, which ran 200 times as fast.
            var said = (await folder.AlarmLogAsync(Conditions.AirPressureLow))[0];
            Assert.True(said.IsTraining && said.Time < Instant.From(TimeProvider.System.GetUtcNow()));
            Assert.Equal(0, (await agent.TerminateAsync(TimeSpan.FromSeconds(20))).ExitCode);
        }

        await NothingPassesAsync(folder, beside);
    }

    private static async Task NothingPassesAsync(AgentFolder folder, string beside)
    {
        var page = Path.Combine(beside, "report.html");
        var (exit, _, error) = await AgentProcess.RunAsync("report", "bay1", "--out", page, "--config", folder.Config);
        Assert.Equal(1, exit);
        Assert.Contains("holds training data: a report is evidence on a real tube, so none is written", error, StringComparison.Ordinal);
        Assert.False(File.Exists(page));

        (exit, var output, error) = await AgentProcess.RunAsync("alarms", "--all", "--json", "--config", folder.Config);
        Assert.Equal(0, exit);
        Assert.Contains("holds training data", error, StringComparison.Ordinal);
        Assert.All(output.Split('\n', StringSplitOptions.RemoveEmptyEntries), line => Assert.Contains("\"training\":\"a replayed recording\"", line, StringComparison.Ordinal));

        // A recording of it says so, and takes its mark into the next store, which makes no report either.
        var recording = Path.Combine(beside, "back.lp.gz");
        (exit, _, error) = await AgentProcess.RunAsync("record", "bay1", "--out", recording, "--config", folder.Config);
        Assert.True(exit == 0, error);
        (exit, output, error) = await AgentProcess.RunAsync("verify", recording);
        Assert.Equal(1, exit);
        Assert.Contains("no proof", output + error, StringComparison.OrdinalIgnoreCase);
        var copy = Path.Combine(beside, "copy.db");
        (exit, _, error) = await AgentProcess.RunAsync("replay", recording, "--store", copy);
        Assert.True(exit == 0, error);
        (exit, _, error) = await AgentProcess.RunAsync("report", "bay1", "--out", page, "--store", copy);
        Assert.Equal(1, exit);
        Assert.Contains("holds training data", error, StringComparison.Ordinal);

        // Nor do tables leave without it, and a live agent takes no such store.
        (exit, _, error) = await AgentProcess.RunAsync("record", "bay1", "--out", Path.Combine(beside, "t.csv"), "--config", folder.Config);
        Assert.Equal(1, exit);
        Assert.Contains("tables cannot carry the mark", error, StringComparison.Ordinal);
        File.WriteAllText(folder.Config, File.ReadAllText(folder.Config).Replace("training/laserwatch", "laserwatch", StringComparison.Ordinal));
        (exit, _, error) = await AgentProcess.RunAsync("run", "--config", folder.Config);
        Assert.Equal(3, exit);
        Assert.Contains("holds training data, and what is to be stored is not marked as such", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Training_never_stands_in_a_store_of_real_machines()
    {
        using var folder = new AgentFolder(RealBroker.FreePort());
        var beside = Path.GetDirectoryName(folder.Config)!;
        var real = Write(beside, "real.lp", ["telemetry,machine=bay1 power=1 1773041400000000000"]);
        var training = Write(beside, "training.lp", ["# laserwatch-training", "telemetry,machine=bay2 power=1 1773041400000000000"]);
        var store = Path.Combine(beside, "store.db");
        Assert.Equal(0, (await AgentProcess.RunAsync("replay", real, "--store", store)).ExitCode);
        var before = File.ReadAllBytes(store);

        var (exit, _, error) = await AgentProcess.RunAsync("replay", training, "--store", store);

        Assert.Equal(3, exit);
        Assert.Contains("holds data of real machines, and training data must never stand among them", error, StringComparison.Ordinal);
        Assert.Equal(before, File.ReadAllBytes(store));

        // The other way round a real recording may be looked at among training data, which stay what they are.
        var school = Path.Combine(beside, "school.db");
        Assert.Equal(0, (await AgentProcess.RunAsync("replay", training, "--store", school)).ExitCode);
        Assert.Equal(0, (await AgentProcess.RunAsync("replay", real, "--store", school)).ExitCode);
        Assert.Equal(1, (await AgentProcess.RunAsync("report", "bay1", "--out", Path.Combine(beside, "r.html"), "--store", school)).ExitCode);
    }

    private static string Write(string folder, string name, IEnumerable<string> lines)
    {
        var path = Path.Combine(folder, name);
        File.WriteAllLines(path, lines);
        return path;
    }

    /// <summary>Half an hour; air comes at 210 kPa as recorded, and from the tenth minute of the run at 150.</summary>
    private static IEnumerable<string> Lines(Instant from)
    {
        yield return $"telemetry,machine=bay1 air_pressure=210,power=66 {from.UnixNanoseconds}";
        yield return $"job_run,machine=bay1 event=\"start\",job=\"birch-6-cut\" {(from + TimeSpan.FromSeconds(1)).UnixNanoseconds}";
        for (var second = 2; second < 1800; second++)
        {
            var air = second < 600 ? 210 : 150;
            yield return $"telemetry,machine=bay1 air_pressure={air},power=66,lasing=1 {(from + TimeSpan.FromSeconds(second)).UnixNanoseconds}";
        }
    }
}
