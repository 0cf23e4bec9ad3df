using System.Globalization;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

/// <summary><c>laserwatch replay --to</c> towards a real mosquitto; what comes is what <c>mosquitto_sub</c> says.</summary>
public sealed class ReplayToBrokerTests : IDisposable
{
    private static readonly Instant First = new(1_773_041_400_000_000_000); // 2026-03-09T07:30:00Z

    private readonly string _folder = Directory.CreateTempSubdirectory("lw-replay").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [SkippableFact]
    public async Task At_high_speed_all_of_it_comes_in_order_and_the_times_end_now()
    {
        await using var broker = await RealBroker.StartAsync();
        var heard = await broker.ListenAsync("training/#");
        var path = Write(Seconds(600, i => $"power={i}"));
        var began = Instant.From(TimeProvider.System.GetUtcNow());

        var (exit, output, error) = await AgentProcess.RunAsync("replay", path, "--to", Url(broker), "--speed", "1000");

        Assert.Equal((0, $"published 600 message(s) to 127.0.0.1:{broker.Port} below training/laserwatch\n", ""), (exit, output, error));
        await RealBroker.UntilAsync(() => heard.Lines.Count >= 600, $"not all came: {heard.Lines.Count}");
        var messages = heard.Lines.Select(Message.Read).ToList();
        Assert.Equal(Enumerable.Range(0, 600).Select(i => (double)i), messages.Select(m => m.Value));
        Assert.All(messages, m => Assert.Equal("training/laserwatch/bay1/power", m.Topic));

        // The recording's own distances, and the last one when it was sent.
        Assert.All(messages.Zip(messages.Skip(1)), pair => Assert.Equal(1, pair.Second.Time.SecondsSince(pair.First.Time), 0.01));
        Assert.True(messages[^1].Time >= began && messages[^1].Time <= Instant.From(TimeProvider.System.GetUtcNow()));
    }

    [SkippableFact]
    public async Task As_fast_as_it_can_nothing_is_dropped_and_original_times_stay()
    {
        await using var broker = await RealBroker.StartAsync();
        var heard = await broker.ListenAsync("training/mary/#");
        var path = Write(Seconds(20_000, i => $"power={i}"));

        var (exit, _, error) = await AgentProcess.RunAsync("replay", path, "--to", Url(broker) + "/training/mary", "--retime", "original");

        Assert.Equal(0, exit);
        Assert.Contains("an agent believes times of up to 7 days", error, StringComparison.Ordinal);
        await RealBroker.UntilAsync(() => heard.Lines.Count >= 20_000, $"not all came: {heard.Lines.Count}");
        Assert.Equal(
            Enumerable.Range(0, 20_000).Select(i => ("training/mary/laserwatch/bay1/power", (double)i, First + TimeSpan.FromSeconds(i))),
            heard.Lines.Select(Message.Read).Select(m => (m.Topic, m.Value, m.Time)));
    }

    [SkippableFact]
    public async Task Standard_input_is_played_forward_from_the_moment_it_comes()
    {
        await using var broker = await RealBroker.StartAsync();
        var heard = await broker.ListenAsync("training/#");
        using (var refused = AgentProcess.StartTold("replay", "-", "--to", Url(broker)))
        {
            Assert.Equal(2, await refused.EndsAsync());
            await refused.SaysAsync("add --speed 1 or --retime original, or write it to a file");
        }

        using var replay = AgentProcess.StartTold("replay", "-", "--to", Url(broker), "--speed", "1");
        foreach (var line in Seconds(8, i => $"power={i}")) // the first is let go once one comes that is more than five seconds newer
            await replay.TellAsync(line);
        await RealBroker.UntilAsync(() => heard.Lines.Count > 0, "nothing came");

        var first = Message.Read(heard.Lines[0]);
        Assert.Equal(0, first.Value);
        Assert.True(first.Time <= Instant.From(TimeProvider.System.GetUtcNow()) && first.Time > Instant.From(TimeProvider.System.GetUtcNow()) - TimeSpan.FromMinutes(1));
    }

    [SkippableFact]
    public async Task A_broker_that_asks_who_comes_is_told_by_the_configuration_over_TLS()
    {
        await using var broker = await SecureMosquitto.StartAsync(folder =>
        {
            var authority = new OpensslAuthority(folder);
            authority.Issue("broker", "IP:127.0.0.1");
        });
        File.WriteAllText(Path.Combine(_folder, "secret"), SecureMosquitto.PasswordOf("training"));
        var config = Path.Combine(_folder, "laserwatch.json");
        File.WriteAllText(config, $$"""
            { "broker": { "host": "127.0.0.1", "port": {{broker.Port}}, "user": "training", "password": { "file": "secret" },
              "tls": { "enabled": true, "caFile": "{{Path.Combine(broker.Folder, "ca.pem")}}" } } }
            """);
        var path = Write(Seconds(3, i => $"power={i}"));
        broker.ProbeLevel = "training/probe";
        var heard = await broker.ListenAsync("training/+/+/+", SecureMosquitto.Login(broker, "training"));

        var (exit, _, error) = await AgentProcess.RunAsync("replay", path, "--to", $"mqtts://127.0.0.1:{broker.Port}", "--config", config);

        Assert.Equal((0, ""), (exit, error));
        await RealBroker.UntilAsync(() => heard.Lines.Count >= 3, $"not all came: {heard.Lines.Count}");

        // Nor may it say anything elsewhere, and its password goes nowhere else.
        (exit, _, error) = await AgentProcess.RunAsync("replay", path, "--to", $"mqtts://127.0.0.1:{broker.Port}/other", "--config", config, "--onto-live-topics");
        Assert.Equal(3, exit);
        Assert.Contains("NotAuthorized", error, StringComparison.Ordinal);
        (exit, _, error) = await AgentProcess.RunAsync("replay", path, "--to", "mqtts://localhost:8883", "--config", config);
        Assert.Equal(2, exit);
        Assert.Contains("its user and password go nowhere else", error, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task Onto_live_topics_it_goes_only_where_it_is_allowed_and_nobody_is_at_work()
    {
        await using var broker = await RealBroker.StartAsync();
        var clients = new MosquittoClients(broker.Port);
        var heard = await broker.ListenAsync("laserwatch/bay1/power");
        var path = Write(Seconds(1, _ => "power=7"));
        string[] live = ["replay", path, "--to", Url(broker), "--onto-live-topics"];

        var (exit, output, _) = await AgentProcess.RunAsync(live);
        Assert.Equal((0, $"published 1 message(s) to 127.0.0.1:{broker.Port} below laserwatch\n"), (exit, output));
        await RealBroker.UntilAsync(() => heard.Lines.Count == 1, "nothing came");

        // A machine's samples, once a second.
        var refused = AgentProcess.RunAsync(live);
        while (!refused.IsCompleted)
            await clients.PublishAsync("laserwatch/bay9/air_pressure", "210");
        (exit, _, var error) = await refused;
        Assert.Equal(1, exit);
        Assert.Contains("laserwatch/bay9/air_pressure is in use", error, StringComparison.Ordinal);

        // An agent that is only waiting; one that went down leaves "offline" behind.
        await clients.PublishAsync("laserwatch/_agent/status", Encoding.UTF8.GetBytes("""{"state":"online"}"""), "-r");
        (exit, _, error) = await AgentProcess.RunAsync(live);
        Assert.Equal(1, exit);
        Assert.Contains("an agent is online (laserwatch/_agent/status)", error, StringComparison.Ordinal);
        Assert.Single(heard.Lines);

        (exit, _, error) = await AgentProcess.RunAsync([.. live, "--although-live"]);
        Assert.Equal(0, exit);
        Assert.Contains("published there all the same", error, StringComparison.Ordinal);
        await RealBroker.UntilAsync(() => heard.Lines.Count == 2, "nothing came");
    }

    private static string Url(RealBroker broker) => $"mqtt://127.0.0.1:{broker.Port}";

    private static IEnumerable<string> Seconds(int count, Func<int, string> fields) => Enumerable.Range(0, count).Select(i =>
        string.Create(CultureInfo.InvariantCulture, $"telemetry,machine=bay1 {fields(i)} {First.UnixNanoseconds + (i * 1_000_000_000L)}"));

    private string Write(IEnumerable<string> lines)
    {
        var path = Path.Combine(_folder, "a.lp");
        File.WriteAllLines(path, lines);
        return path;
    }

    private sealed record Message(string Topic, double Value, Instant Time)
    {
        public static Message Read(string line)
        {
            var space = line.IndexOf(' ', StringComparison.Ordinal);
            using var json = System.Text.Json.JsonDocument.Parse(Encoding.UTF8.GetBytes(line[(space + 1)..]));
            Assert.True(Rfc3339.TryParse(json.RootElement.GetProperty("time").GetString(), out var time));
            return new(line[..space], json.RootElement.TryGetProperty("value", out var value) ? value.GetDouble() : double.NaN, time);
        }
    }
}
