using System.Globalization;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Delivery;
using LaserWatch.Mqtt;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

public sealed class DeliveryTests
{
    [SkippableFact]
    public async Task An_alarm_reaches_a_webhook_signed_and_once_over_an_outage_and_a_crash_and_what_waits_does_not_delay_a_stop()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var receiver = new WebhookReceiver(up: false);
        using var folder = Folder(broker.Port, receiver);
        var clients = new MosquittoClients(broker.Port);
        var agent = folder.Run();
        try
        {
            await agent.SaysAsync("Connected to the broker");

            // A fresh one, and one from sensors that come back after ten minutes; nobody listens yet.
            await clients.PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");
            await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(80, _ => 150));
            await clients.PublishLinesAsync("laserwatch/bay2/coolant_in", OldValues(200, 35));
            await agent.SaysAsync("Alarms cannot be delivered to office");
            await agent.SaysAsync("bay2: coolant-hot unacknowledged");
            agent.Kill();
            agent.Dispose();
            agent = folder.Run();
            await agent.SaysAsync("Connected to the broker");
            receiver.Start();
            await receiver.HasTakenAsync(2);

            var raised = receiver.Taken.ToDictionary(p => p.Body.Contains("bay2", StringComparison.Ordinal) ? "bay2" : "bay1");
            Assert.Equal((false, true), (raised["bay1"].IsLate, raised["bay2"].IsLate));
            Assert.All(receiver.Taken, post => Assert.Equal("office", SignedPost.Verify(post, "between us")));
            Assert.True(AlarmJson.TryRead(Encoding.UTF8.GetBytes(raised["bay1"].Body), out var change, out _));
            Assert.Equal((Conditions.AirPressureLow, "birch-6-cut", raised["bay1"].Id), (change!.Condition, change.Job, change.Id()));
            await Eventually.HoldsAsync(async () => (await folder.AlarmLogAsync(Conditions.AirPressureLow)).Count == 1, () => $"the store holds it; the agent said:\n{agent.Output}");
            Assert.Equal(change.Id(), (await folder.AlarmLogAsync(Conditions.AirPressureLow))[0].Id());

            // The same again after another crash is no news; what is new then comes after what came before.
            agent.Kill();
            agent.Dispose();
            agent = folder.Run();
            await agent.SaysAsync("Connected to the broker");
            await clients.PublishLinesAsync("laserwatch/bay3/coolant_in", AgentFolder.TimedValues(200, _ => 35));
            await receiver.HasTakenAsync(3);
            Assert.Contains("bay3", receiver.Taken[2].Body, StringComparison.Ordinal);
            Assert.Equal(3, receiver.Taken.Count);

            await receiver.StopAsync();
            await clients.PublishLinesAsync("laserwatch/bay4/coolant_in", AgentFolder.TimedValues(200, _ => 35));
            await agent.SaysAsync("bay4: coolant-hot unacknowledged");
            await agent.SaysAsync("Alarms cannot be delivered to office");
            var (exitCode, took) = await agent.TerminateAsync(TimeSpan.FromSeconds(20));
            Assert.Equal(0, exitCode);
            Assert.True(took < TimeSpan.FromSeconds(5), $"the stop took {took}; the agent said:\n{agent.Output}");
            Assert.Contains("1 messages wait for office", agent.Output, StringComparison.Ordinal);
        }
        finally
        {
            agent.Dispose();
        }
    }

    [Fact]
    public async Task Check_sends_a_test_through_every_outlet_and_says_of_each_whether_it_was_taken()
    {
        await using var receiver = new WebhookReceiver();
        await using var sink = new MailSink();
        using var folder = Folder(RealBroker.FreePort(), receiver, $$"""
            , "mail": { "ana": { "host": "127.0.0.1", "port": {{sink.Port}}, "security": "none", "from": "laser@shop.example", "to": ["ana@shop.example"],
                "restHours": { "from": "00:00", "to": "23:59", "below": "urgent" } } }
            """);

        var (exitCode, output, error) = await AgentProcess.RunAsync("check", "--send-test", "--config", folder.Config);
        Assert.Equal((0, "office: taken\nana: taken\n", ""), (exitCode, output, error));
        Assert.Equal("Test, nothing is wrong", Assert.Single(sink.Mails).Subject);
        Assert.Contains("\"cause\":\"test\"", Assert.Single(receiver.Taken).Body, StringComparison.Ordinal);
        Assert.Equal("office", SignedPost.Verify(receiver.Taken[0], "between us"));
        Assert.False(File.Exists(Path.ChangeExtension(folder.StorePath, ".outbox.db"))); // a test leaves nothing behind

        receiver.Answer(new Answer(404));
        (exitCode, output, _) = await AgentProcess.RunAsync("check", "--config", folder.Config, "--send-test", "office");
        Assert.Equal((1, "office: NOT taken: 127.0.0.1 answers 404 Not Found; put 'url', 'token' or 'secret' right, here or there\n"), (exitCode, output));

        (exitCode, _, error) = await AgentProcess.RunAsync("check", "--config", folder.Config, "--send-test", "lamp");
        Assert.Equal(2, exitCode);
        Assert.Contains("there is no outlet 'lamp'", error, StringComparison.Ordinal);
        Assert.Contains("there are office, ana.", error, StringComparison.Ordinal);
    }

    private static AgentFolder Folder(int broker, WebhookReceiver receiver, string more = "")
    {
        var folder = new AgentFolder(broker);
        File.WriteAllText(Path.Combine(Path.GetDirectoryName(folder.Config)!, "secret"), "between us\n");
        File.WriteAllText(folder.Config, File.ReadAllText(folder.Config).Replace("\"store\":", $$"""
            "delivery": { "lateAfterSeconds": 300, "longestRetrySeconds": 2, "webhooks": { "office": { "url": "{{receiver.Url}}", "secret": { "file": "secret" } } }{{more}} },
              "store":
            """, StringComparison.Ordinal));
        return folder;
    }

    private static IEnumerable<string> OldValues(int count, double value)
    {
        var start = Instant.From(TimeProvider.System.GetUtcNow()) - TimeSpan.FromMinutes(10);
        return Enumerable.Range(1, count).Select(i => string.Create(
            CultureInfo.InvariantCulture, $$"""{"value": {{value}}, "time": "{{Rfc3339.Format(start + TimeSpan.FromSeconds(i * 0.25))}}"}"""));
    }
}
