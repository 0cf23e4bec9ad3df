using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

public sealed class EmbeddedBrokerTests
{
    [SkippableFact]
    public async Task Without_a_broker_the_agent_is_one_and_raises_the_alarm_there()
    {
        Needs.MosquittoClients();
        var port = RealBroker.FreePort();
        using var folder = new AgentFolder(embedded: port);
        var clients = new MosquittoClients(port);
        using var agent = folder.Run();
        await agent.SaysAsync("The embedded broker listens");
        await clients.PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(120, _ => 150));

        var alarm = await clients.RetainsAsync("laserwatch/bay1/alarm/air-pressure-low", "\"state\":\"unacknowledged\"");

        Assert.Contains("\"job\":\"birch-6-cut\"", alarm, StringComparison.Ordinal);
        Assert.Contains("\"checks\":[\"", alarm, StringComparison.Ordinal);
        Assert.Equal(120, (await folder.SamplesAsync(Channel.AirPressure)).Count);

        var (exitCode, _, error) = await AgentProcess.RunAsync(
            "service", "add", "bay1", "--part", "tube", "--action", "replaced", "--serial", "T-000002", "--config", folder.Config);
        Assert.Equal((0, "Added.\n"), (exitCode, error));
    }

    [SkippableFact]
    public async Task Where_its_port_is_taken_the_agent_says_so_in_one_line_and_ends_with_3()
    {
        await using var broker = await RealBroker.StartAsync();
        using var folder = new AgentFolder(embedded: broker.Port);

        var (exitCode, _, error) = await AgentProcess.RunAsync("run", "--config", folder.Config);

        Assert.Equal(3, exitCode);
        Assert.Contains($"The embedded broker cannot listen on 127.0.0.1:{broker.Port}", error, StringComparison.Ordinal);
        Assert.DoesNotContain("   at ", error, StringComparison.Ordinal);
    }
}
