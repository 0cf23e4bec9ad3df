using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Pipeline;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

public sealed class StopTests
{
    private static readonly TimeSpan MostForAStop = TimeSpan.FromSeconds(5);

    [SkippableFact]
    public async Task Told_to_stop_the_agent_ends_within_five_seconds_with_everything_stored_and_says_offline()
    {
        await using var broker = await RealBroker.StartAsync();
        using var folder = new AgentFolder(broker.Port);
        var clients = new MosquittoClients(broker.Port);
        using var agent = folder.Run();
        await agent.SaysAsync("Connected to the broker");
        await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(1000, i => 200 + (i * 0.001)));
        await clients.RetainsAsync("laserwatch/bay1/status", "\"state\":\"online\"");

        var (exitCode, took) = await agent.TerminateAsync(TimeSpan.FromSeconds(20));

        Assert.True(took < MostForAStop, $"It took {took.TotalSeconds:0.0} s:\n{agent.Output}");
        Assert.Equal(0, exitCode);
        Assert.Contains("everything is stored", agent.Output, StringComparison.Ordinal);
        Assert.Contains("\"state\":\"offline\"", await clients.RetainedAsync("laserwatch/bay1/status"), StringComparison.Ordinal);
        var samples = await folder.SamplesAsync(Channel.AirPressure);
        Assert.Equal(1000, samples.Count);
        Assert.True(SavedWatch.TryUnpack(await folder.WatchStateAsync(), out var seenUntil, out _));
        Assert.True(Instant.From(TimeProvider.System.GetUtcNow()) - seenUntil < TimeSpan.FromSeconds(30), "the state was saved at the stop");
    }

    [SkippableTheory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_standing_alarm_stands_after_a_restart_and_is_not_announced_anew(bool killed)
    {
        await using var broker = await RealBroker.StartAsync();
        using var folder = new AgentFolder(broker.Port);
        var clients = new MosquittoClients(broker.Port);
        string? announced;
        using (var agent = folder.Run())
        {
            await agent.SaysAsync("Connected to the broker");
            await clients.PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");
            await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(120, _ => 150));
            announced = await clients.RetainsAsync("laserwatch/bay1/alarm/air-pressure-low", "\"state\":\"unacknowledged\"");
            Assert.Contains("bay1: air-pressure-low unacknowledged (", agent.Output, StringComparison.Ordinal);
            await Eventually.HoldsAsync(async () => (await folder.AlarmLogAsync(Conditions.AirPressureLow)).Count > 0, () => "the alarm is stored");
            if (killed)
                agent.Kill();
            else
                await agent.TerminateAsync(TimeSpan.FromSeconds(20));
        }

        using (var again = folder.Run())
        {
            await again.SaysAsync("standing alarms: 1;");
            await again.SaysAsync("Connected to the broker");
            await clients.PublishLinesAsync("laserwatch/bay1/coolant_in", ["20.5"]);
            await Eventually.HoldsAsync(async () => (await folder.SamplesAsync(Channel.CoolantIn)).Count == 1, () => "the next sample is stored");
            Assert.DoesNotContain("air-pressure-low unacknowledged", again.Output, StringComparison.Ordinal);

            var (exitCode, output, _) = await AgentProcess.RunAsync("alarms", "bay1", "--config", folder.Config);
            Assert.Equal(0, exitCode);
            Assert.Contains("air-pressure-low  unacknowledged", output, StringComparison.Ordinal);

            (exitCode, _, var error) = await AgentProcess.RunAsync(
                "alarms", "ack", "bay1", "air-pressure-low", "--by", "night shift", "--config", folder.Config);
            Assert.True(exitCode == 0, error);
        }

        Assert.Equal(
            [AlarmState.Unacknowledged, AlarmState.Acknowledged],
            (await folder.AlarmLogAsync(Conditions.AirPressureLow)).Select(c => c.State));
        Assert.NotNull(announced);
    }
}
