using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Mqtt;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

public sealed class AnnotationTests
{
    [SkippableFact]
    public async Task A_running_agent_keeps_an_annotation_of_the_past_and_learns_without_it_at_its_next_start()
    {
        Needs.MosquittoClients();
        await using var broker = await RealBroker.StartAsync();
        using var folder = new AgentFolder(broker.Port);
        var clients = new MosquittoClients(broker.Port);
        var now = Instant.From(TimeProvider.System.GetUtcNow());
        var (from, to) = (Rfc3339.Format(now - TimeSpan.FromMinutes(1)), Rfc3339.Format(now + TimeSpan.FromMinutes(1)));
        using (var agent = folder.Run())
        {
            await agent.SaysAsync("Connected to the broker");
            await clients.PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");
            await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(120, _ => 210));
            await Eventually.HoldsAsync(async () => await folder.CountAsync() == 120, () => agent.Output);

            var (exit, id, error) = await AgentProcess.RunAsync("annotate", "bay1", "--from", from, "--to", to, "--as", "ignore", "--by", "ann", "--config", folder.Config);

            Assert.Equal(0, exit);
            Assert.Equal("Added.\nTrends, reports and comparisons leave the span out from now on; the agent's rules learn without it at its next start.\n", error);
            await using (var store = SqliteTelemetryStore.OpenForReading(folder.StorePath))
            {
                var entry = Assert.Single(await store.ReadServiceEventsAsync("bay1", Instant.MinValue, Instant.MaxValue, CancellationToken.None), Annotation.IsOne);
                Assert.Equal((id.Trim(), AnnotationKind.Ignore), (Annotation.Of(entry)!.Id, Annotation.Of(entry)!.Kind));
                Assert.Equal(Annotation.Of(entry)!.From, entry.At);
            }

            await agent.TerminateAsync(TimeSpan.FromSeconds(30));
        }

        using (var again = folder.Run())
        {
            await again.SaysAsync("bay1: annotations of its past have changed; learning anew");
            await again.SaysAsync("Connected to the broker");
            await again.TerminateAsync(TimeSpan.FromSeconds(30));
        }

        using var third = folder.Run();
        await third.SaysAsync("Connected to the broker");
        Assert.DoesNotContain("learning anew", third.Output, StringComparison.Ordinal);
    }
}
