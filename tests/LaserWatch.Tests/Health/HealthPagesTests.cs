using System.Net;
using System.Text.Json;
using LaserWatch.Mqtt;

namespace LaserWatch.Health;

public sealed class HealthPagesTests
{
    [Fact]
    public async Task An_agent_that_judges_hears_and_stores_says_so_part_by_part()
    {
        await using var agent = await HostedAgent.StartAsync();
        using var answer = await agent.Http.GetAsync("/agent/works");
        var text = await answer.Content.ReadAsStringAsync();
        SentKeys.HoldIn(text);
        using var page = JsonDocument.Parse(text);

        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.Equal("good", page.RootElement.GetProperty("state").GetString());
        var checks = page.RootElement.GetProperty("checks").EnumerateObject().ToDictionary(c => c.Name, c => c.Value.GetProperty("state").GetString());
        Assert.Equal(["broker", "clock", "pipeline", "resumed", "store"], checks.Keys.Order().Intersect(["broker", "clock", "pipeline", "resumed", "store"]));
        Assert.All(page.RootElement.GetProperty("checks").EnumerateObject(), check => Assert.NotEmpty(check.Value.GetProperty("why").GetString()!));
        Assert.All(checks.Values, state => Assert.Equal("good", state));
    }

    [Fact]
    public async Task Whether_it_lives_is_judged_by_the_pipeline_alone()
    {
        await using var agent = await HostedAgent.StartAsync();
        using var page = JsonDocument.Parse(await agent.Http.GetStringAsync("/agent/judges"));

        Assert.Equal(["pipeline"], page.RootElement.GetProperty("checks").EnumerateObject().Select(c => c.Name));
    }

    [Theory]
    [InlineData("/")]
    [InlineData("/agent")]
    [InlineData("/health/live")]
    [InlineData("/health/ready")]
    [InlineData("/agent/judges/")]
    [InlineData("/agent/judges/x")]
    [InlineData("/metrics/x")]
    [InlineData("/../laserwatch.db")]
    [InlineData("/favicon.ico")]
    public async Task There_is_no_other_page(string path)
    {
        await using var agent = await HostedAgent.StartAsync();
        using var answer = await agent.Http.GetAsync(path);

        Assert.True(answer.StatusCode == HttpStatusCode.NotFound || path == "/agent/judges/", $"{path}: {answer.StatusCode}");
        Assert.False(answer.Headers.Contains("Server"));
    }

    [Theory]
    [InlineData("POST")]
    [InlineData("PUT")]
    [InlineData("DELETE")]
    [InlineData("OPTIONS")]
    [InlineData("TRACE")]
    public async Task Pages_can_be_read_and_nothing_else(string method)
    {
        await using var agent = await HostedAgent.StartAsync();
        foreach (var path in (string[])["/agent/judges", "/agent/works", "/metrics", "/"])
        {
            using var request = new HttpRequestMessage(new HttpMethod(method), path);
            using var answer = await agent.Http.SendAsync(request);
            Assert.Equal(HttpStatusCode.MethodNotAllowed, answer.StatusCode);
        }
    }

    [Fact]
    public async Task The_head_of_a_page_is_that_of_the_page_without_its_body()
    {
        await using var agent = await HostedAgent.StartAsync();
        using var request = new HttpRequestMessage(HttpMethod.Head, "/agent/judges");
        using var head = await agent.Http.SendAsync(request);
        using var page = await agent.Http.GetAsync("/agent/judges");

        Assert.Equal(HttpStatusCode.OK, head.StatusCode);
        Assert.Empty(await head.Content.ReadAsByteArrayAsync());
        Assert.Equal(page.Content.Headers.ContentLength, head.Content.Headers.ContentLength);
    }

    [Fact]
    public async Task A_body_is_not_taken()
    {
        await using var agent = await HostedAgent.StartAsync();
        using var request = new HttpRequestMessage(HttpMethod.Get, "/agent/judges") { Content = new ByteArrayContent(new byte[100_000]) };
        using var answer = await agent.Http.SendAsync(request);
        using var after = await agent.Http.GetAsync("/agent/judges");

        Assert.Equal(HttpStatusCode.OK, after.StatusCode);
    }

    [Fact]
    public async Task A_port_that_is_taken_costs_the_pages_and_not_the_watch()
    {
        using var other = new System.Net.Sockets.TcpListener(IPAddress.Loopback, 0);
        other.Start();
        await using var agent = await HostedAgent.StartAsync(new HealthOptions { Port = ((IPEndPoint)other.LocalEndpoint).Port });

        Assert.True(RealBroker.Answers(agent.Broker));
        Assert.Null(agent.Address);
    }

    [Fact]
    public async Task Switched_off_there_are_no_pages()
    {
        await using var agent = await HostedAgent.StartAsync(new HealthOptions { Enabled = false, Port = 0 });

        Assert.Null(agent.Address);
    }
}
