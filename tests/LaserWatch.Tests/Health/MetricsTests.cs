using LaserWatch.EndToEnd;
using LaserWatch.Mqtt;

namespace LaserWatch.Health;

public sealed class MetricsTests
{
    private const string OpenMetrics = "application/openmetrics-text; version=1.0.0";

    [Fact]
    public async Task Every_line_can_be_read_in_either_format()
    {
        await using var agent = await HostedAgent.StartAsync();
        var old = MetricText.Read(await agent.Http.GetStringAsync("/metrics"));
        using var request = new HttpRequestMessage(HttpMethod.Get, "/metrics");
        request.Headers.TryAddWithoutValidation("Accept", OpenMetrics);
        using var answer = await agent.Http.SendAsync(request);
        var open = MetricText.Read(await answer.Content.ReadAsStringAsync());

        Assert.StartsWith("application/openmetrics-text", answer.Content.Headers.ContentType!.ToString(), StringComparison.Ordinal);
        Assert.True(open.Ended);
        Assert.False(old.Ended);
        var ours = open.Samples.Keys.Where(key => key.StartsWith("laserwatch_", StringComparison.Ordinal)).ToList();
        Assert.True(ours.Count is > 40 and < 200, $"{ours.Count} series");
        Assert.Equal("counter", open.Types["laserwatch_messages_taken"]);
        Assert.Equal(1, open.Samples["laserwatch_ready"]);
        Assert.True(open.Samples["laserwatch_store_size_bytes"] > 0);
    }

    [SkippableFact]
    public async Task What_sensors_send_is_counted_as_it_is_taken_judged_stored_and_refused()
    {
        MosquittoClients.SkipWhereMissing();
        await using var agent = await HostedAgent.StartAsync();
        var clients = new MosquittoClients(agent.Broker);
        await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", ["210", "211", "n/a", "NaN", "212"]);
        await clients.PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"x"}""");

        MetricText? text = null;
        await Eventually.HoldsAsync(
            async () => (text = MetricText.Read(await agent.Http.GetStringAsync("/metrics"))).Samples["laserwatch_samples_stored_total"] == 3
                && text.Samples["laserwatch_messages_taken_total"] == 6,
            () => $"three samples of six messages; {string.Join("\n", text!.Samples)}");

        Assert.Equal(3, text!.Samples["laserwatch_samples_judged_total"]);
        Assert.Equal(1, text.Samples["""laserwatch_messages_rejected_total{reason="not-a-number"}"""]);
        Assert.Equal(1, text.Samples["""laserwatch_messages_rejected_total{reason="not-finite"}"""]);
        Assert.Equal(0, text.Samples["""laserwatch_messages_rejected_total{reason="unknown-topic"}"""]);
        Assert.Equal("histogram", text.Types["laserwatch_sample_judge_lag_seconds"]);
        Assert.Equal(3, text.Samples["laserwatch_sample_judge_lag_seconds_count"]);
        Assert.True(text.Samples["laserwatch_sample_store_lag_seconds_count"] >= 1);
        Assert.Equal(0, text.Samples["laserwatch_messages_dropped_total"]);
    }

    [SkippableFact]
    public async Task The_heartbeat_is_not_taken_for_a_message_of_a_sensor()
    {
        MosquittoClients.SkipWhereMissing();
        await using var agent = await HostedAgent.StartAsync(new HealthOptions { Port = 0, HeartbeatSeconds = 0.2 });
        MetricText? text = null;
        await Eventually.HoldsAsync(
            async () => (text = MetricText.Read(await agent.Http.GetStringAsync("/metrics"))).Samples.ContainsKey("laserwatch_heartbeat_time_seconds"),
            () => "a heartbeat goes out");

        Assert.Equal(0, text!.Samples["laserwatch_messages_taken_total"]);
    }
}
