using System.Text;
using LaserWatch.EndToEnd;
using LaserWatch.Mqtt;

namespace LaserWatch.Health;

public sealed class OtlpTests
{
    [Fact]
    public async Task Metrics_are_posted_to_the_collector()
    {
        using var collector = new LoopbackReceiver();
        await using var agent = await HostedAgent.StartAsync(new HealthOptions { Port = 0, Otlp = new OtlpOptions { Endpoint = collector.Address, EverySeconds = 1 } });
        await RealBroker.UntilAsync(() => collector.Requests.Count > 0, "no metrics come");

        var posted = collector.Requests[0];
        Assert.Equal(("POST", "/v1/metrics", "application/x-protobuf"), (posted.Method, posted.Path, posted.ContentType));
        var text = Encoding.Latin1.GetString(posted.Body);
        Assert.Contains("laserwatch.messages.taken", text, StringComparison.Ordinal); // names go as they are, dots and all
        Assert.Contains("service.name", text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("http://127.0.0.1:4318", OtlpProtocol.HttpProtobuf, "http://127.0.0.1:4318/v1/metrics")]
    [InlineData("http://127.0.0.1:4318/", OtlpProtocol.HttpProtobuf, "http://127.0.0.1:4318/v1/metrics")]
    [InlineData("https://c.example/otlp", OtlpProtocol.HttpProtobuf, "https://c.example/otlp/v1/metrics")]
    [InlineData("https://c.example/v1/metrics", OtlpProtocol.HttpProtobuf, "https://c.example/v1/metrics")]
    [InlineData("http://127.0.0.1:4317", OtlpProtocol.Grpc, "http://127.0.0.1:4317/")]
    public void The_path_of_the_protocol_is_added_where_it_belongs(string endpoint, OtlpProtocol protocol, string target) =>
        Assert.Equal(target, new OtlpOptions { Endpoint = endpoint, Protocol = protocol }.Target!.ToString());

    [Fact]
    public async Task A_collector_that_is_away_is_said_once_and_machines_are_watched_on()
    {
        using var folder = new AgentFolder(embedded: RealBroker.FreePort(), health: $$"""
            "port": 0, "otlp": { "endpoint": "http://127.0.0.1:{{RealBroker.FreePort()}}", "everySeconds": 1 }
            """);
        using var agent = folder.Run();
        await agent.SaysAsync("Metrics do not reach http://127.0.0.1:");
        var (exitCode, _) = await agent.TerminateAsync(TimeSpan.FromSeconds(20));

        Assert.Equal(0, exitCode);
        Assert.Single(agent.Output.Split('\n'), line => line.Contains("Metrics do not reach", StringComparison.Ordinal));
    }
}
