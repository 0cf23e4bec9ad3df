using System.Net;
using System.Net.Sockets;
using System.Text.RegularExpressions;
using LaserWatch.EndToEnd;
using LaserWatch.Mqtt;

namespace LaserWatch.Health;

public sealed partial class HealthProcessTests
{
    [SkippableFact]
    public async Task The_agent_as_a_process_works_while_it_hears_and_not_when_the_broker_has_gone()
    {
        await using var broker = await RealBroker.StartAsync();
        using var folder = new AgentFolder(broker.Port);
        using var agent = folder.Run();
        await agent.SaysAsync("Connected to the broker");
        await agent.SaysAsync("Health and metrics at ");
        using var http = new HttpClient { BaseAddress = new Uri(Address().Match(agent.Output).Groups[1].Value) };
        Assert.Equal(HttpStatusCode.OK, (await http.GetAsync("/agent/works")).StatusCode);
        Assert.Equal(1, MetricText.Read(await http.GetStringAsync("/metrics")).Samples["laserwatch_works"]);

        await broker.StopAsync();
        await Eventually.HoldsAsync(
            async () => (await http.GetAsync("/agent/works")).StatusCode == HttpStatusCode.ServiceUnavailable, () => "without its broker not all of the agent works");
        Assert.Contains("no sensor is heard", await (await http.GetAsync("/agent/works")).Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.OK, (await http.GetAsync("/agent/judges")).StatusCode);
        var (exitCode, took) = await agent.TerminateAsync(TimeSpan.FromSeconds(20));
        Assert.Equal(0, exitCode);
        Assert.True(took < TimeSpan.FromSeconds(10), $"stopping took {took}");
    }

    [Fact]
    public async Task A_port_that_is_taken_is_one_clear_line()
    {
        using var other = new TcpListener(IPAddress.Loopback, 0);
        other.Start();
        var port = ((IPEndPoint)other.LocalEndpoint).Port;
        using var folder = new AgentFolder(embedded: RealBroker.FreePort(), health: $"\"port\": {port}");
        using var agent = folder.Run();
        await agent.SaysAsync($"No health page at 127.0.0.1:{port}: ");
        await agent.SaysAsync("The embedded broker listens");
        var (exitCode, _) = await agent.TerminateAsync(TimeSpan.FromSeconds(20));

        Assert.Equal(0, exitCode);
        Assert.Single(agent.Output.Split('\n'), line => line.Contains("health", StringComparison.OrdinalIgnoreCase));
    }

    [GeneratedRegex("Health and metrics at (http://[0-9.:]+)/")]
    private static partial Regex Address();
}
