using System.Diagnostics;
using System.Text.Json;
using LaserWatch.EndToEnd;
using LaserWatch.Fakes;
using LaserWatch.Mqtt;

namespace LaserWatch.Health;

public sealed class HeartbeatTests
{
    [Fact]
    public async Task A_heartbeat_tells_its_time_its_number_since_when_and_the_state_and_is_not_retained()
    {
        await using var bench = new HealthBench();
        var heartbeat = Make(bench);
        bench.Advance(10);
        await heartbeat.BeatAsync(default);
        bench.Advance(10);
        await heartbeat.BeatAsync(default);

        Assert.Equal(
            [
                ("laserwatch/_agent/heartbeat", """{"time":"2026-03-09T08:00:10Z","sequence":1,"since":"2026-03-09T08:00:00Z","state":"works"}""", false),
                ("laserwatch/_agent/heartbeat", """{"time":"2026-03-09T08:00:20Z","sequence":2,"since":"2026-03-09T08:00:00Z","state":"works"}""", false),
            ],
            bench.Link.Published);
        Assert.Equal(bench.Clock.Now, heartbeat.LastAt);
    }

    [Fact]
    public async Task A_stuck_pipeline_has_no_heart_beat_and_an_agent_of_which_a_part_fails_says_why()
    {
        await using var bench = new HealthBench();
        var heartbeat = Make(bench);
        bench.Advance(31);
        await heartbeat.BeatAsync(default);
        Assert.Empty(bench.Link.Published);

        bench.Figures.IsWatching = false;
        await heartbeat.BeatAsync(default);
        SentKeys.HoldIn(Assert.Single(bench.Link.Published).Payload);
        using var text = JsonDocument.Parse(bench.Link.Published[0].Payload);
        Assert.Equal("faulty", text.RootElement.GetProperty("state").GetString());
        Assert.StartsWith("resumed: ", Assert.Single(text.RootElement.GetProperty("why").EnumerateArray()).GetString(), StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task Whoever_subscribes_sees_the_heartbeats_in_order_and_the_broker_keeps_none()
    {
        Needs.MosquittoClients();
        await using var agent = await HostedAgent.StartAsync(new HealthOptions { Port = 0, HeartbeatSeconds = 0.2 });
        var clients = new MosquittoClients(agent.Broker);
        var started = new List<Process>();
        try
        {
            var listener = await Listener.StartAsync(
                started.Add, probe => clients.PublishAsync(probe, "here"u8.ToArray(), "-r"), agent.Broker, "laserwatch/_agent/heartbeat", []);
            await RealBroker.UntilAsync(() => listener.Lines.Count >= 3, "no three heartbeats are heard");
            var numbers = listener.Lines.Select(line => JsonDocument.Parse(line["laserwatch/_agent/heartbeat ".Length..]).RootElement.GetProperty("sequence").GetInt64()).ToList();

            Assert.Equal(Enumerable.Range((int)numbers[0], numbers.Count).Select(n => (long)n), numbers);
            Assert.Null(await clients.RetainedAsync("laserwatch/_agent/heartbeat"));
        }
        finally
        {
            foreach (var process in started)
            {
                process.Kill();
                process.Dispose();
            }
        }
    }

    private static Heartbeat Make(HealthBench bench) =>
        new(bench.Condition, bench.Link, new Topics("laserwatch"), bench.Clock, bench.Options, new CollectingLogger<Heartbeat>());
}
