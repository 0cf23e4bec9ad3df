using LaserWatch.EndToEnd;

namespace LaserWatch.Health;

public sealed class MetricsTests
{
    [Theory]
    [InlineData(null)]
    [InlineData("text/plain; version=0.0.4")]
    [InlineData("*/*")]
    [InlineData("application/openmetrics-text; version=1.0.0")]
    public async Task Whatever_is_asked_for_the_answer_is_OpenMetrics(string? accept)
    {
        await using var agent = await HostedAgent.StartAsync();
        using var request = new HttpRequestMessage(HttpMethod.Get, "/metrics");
        if (accept is not null)
            request.Headers.TryAddWithoutValidation("Accept", accept);
        using var answer = await agent.Http.SendAsync(request);
        var text = await answer.Content.ReadAsStringAsync();
        var read = MetricText.Read(text);

        Assert.Equal("application/openmetrics-text; version=1.0.0; charset=utf-8", answer.Content.Headers.ContentType!.ToString());
        Assert.StartsWith("# TYPE target info\n", text, StringComparison.Ordinal); // what describes the agent comes before all else
        var ours = read.Samples.Keys.Where(key => key.StartsWith("laserwatch_", StringComparison.Ordinal)).ToList();
        Assert.True(ours.Count is > 40 and < 200, $"{ours.Count} series");
        Assert.Equal("counter", read.Types["laserwatch_messages_taken"]);
        Assert.Equal("seconds", read.Units["laserwatch_sample_judge_lag_seconds"]);
        Assert.Equal("bytes", read.Units["laserwatch_store_size_bytes"]);
        Assert.Equal(1, read.Samples["laserwatch_judges"]);
        Assert.Equal(1, read.Samples["laserwatch_works"]);
        Assert.True(read.Samples["laserwatch_store_size_bytes"] > 0);
    }

    [Theory]
    [InlineData("# TYPE a gauge\na 1\n", "does not end")]
    [InlineData("# TYPE a counter\na 1\n# EOF\n", "No sample of the family")]
    [InlineData("# TYPE a_total counter\na_total 1\n# EOF\n", "a_total counter")]
    [InlineData("# TYPE a counter\na_total 1\n# EOF\n", "without the time")]
    [InlineData("# TYPE a gauge\n# UNIT a seconds\na 1\n# EOF\n", "UNIT a seconds")]
    [InlineData("# TYPE a gauge\n# TYPE b gauge\na 1\n# EOF\n", "No sample of the family b")]
    [InlineData("# TYPE a histogram\na_bucket{le=\"1\"} 0\na_bucket{le=\"+Inf\"} 0\na_sum 0\na_count 0\n# EOF\n", "No bound with a point")]
    [InlineData("# TYPE a gauge\n\na 1\n# EOF\n", "No sample: ")]
    public void The_reader_of_these_tests_refuses_what_the_format_forbids(string text, string why) =>
        Assert.Contains(why, Assert.Throws<FormatException>(() => MetricText.Read(text)).Message, StringComparison.Ordinal);

    [SkippableFact]
    public async Task What_sensors_send_is_counted_as_it_is_taken_judged_stored_and_refused()
    {
        Needs.MosquittoClients();
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
        Assert.Equal(1, text.Samples["""laserwatch_messages_rejected_total{reason="not_a_number"}"""]);
        Assert.Equal(1, text.Samples["""laserwatch_messages_rejected_total{reason="not_finite"}"""]);
        Assert.Equal(0, text.Samples["""laserwatch_messages_rejected_total{reason="unknown_topic"}"""]);
        Assert.Equal("histogram", text.Types["laserwatch_sample_judge_lag_seconds"]);
        Assert.Equal(3, text.Samples["laserwatch_sample_judge_lag_seconds_count"]);
        Assert.True(text.Samples["laserwatch_sample_store_lag_seconds_count"] >= 1);
        Assert.Equal(0, text.Samples["laserwatch_messages_dropped_total"]);
    }

    [SkippableFact]
    public async Task The_heartbeat_is_not_taken_for_a_message_of_a_sensor()
    {
        Needs.MosquittoClients();
        await using var agent = await HostedAgent.StartAsync(new HealthOptions { Port = 0, HeartbeatSeconds = 0.2 });
        MetricText? text = null;
        await Eventually.HoldsAsync(
            async () => (text = MetricText.Read(await agent.Http.GetStringAsync("/metrics"))).Samples.ContainsKey("laserwatch_heartbeat_time_seconds"),
            () => "a heartbeat goes out");

        Assert.Equal(0, text!.Samples["laserwatch_messages_taken_total"]);
    }
}
