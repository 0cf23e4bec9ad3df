using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

public sealed class CrashTests
{
    private const int Samples = 1500;

    [SkippableTheory]
    [InlineData(1)]
    [InlineData(2)]
    public async Task Killed_again_and_again_the_agent_holds_every_qos_1_sample_exactly_once_and_raises_the_alarm(int seed)
    {
        await using var broker = await RealBroker.StartAsync();
        using var folder = new AgentFolder(broker.Port);
        var clients = new MosquittoClients(broker.Port);
        var random = new Random(seed);
        var agent = folder.Run();
        try
        {
            await agent.SaysAsync("Connected to the broker");
            await clients.PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");

            // Bare numbers bear no time: nothing but their delivery tells a second copy from a new sample.
            var bare = Enumerable.Range(0, Samples).Select(i => 20 + (i * 0.001)).ToList();
            var low = Enumerable.Range(1, Samples).Select(i => 150 + (i * 0.001)).ToList();
            var pause = TimeSpan.FromMilliseconds(25);
            var publishing = Task.WhenAll(
                clients.PublishLinesAsync("laserwatch/bay1/coolant_in", bare.Select(v => v.ToString(CultureInfo.InvariantCulture)), pause),
                clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(200, i => low[i - 1]), pause));

            var killAt = 0L;
            for (var kill = 0; kill < 4; kill++)
            {
                killAt += random.Next(40, 300);
                await Eventually.HoldsAsync(
                    async () => await folder.CountAsync() >= killAt, () => $"{killAt} samples are stored; the agent said:\n{agent.Output}");
                agent.Kill();
                agent.Dispose();
                agent = folder.Run();
            }

            await publishing;
            await Eventually.HoldsAsync(
                async () => await folder.CountAsync() >= Samples + 200, () => $"all samples are stored; the agent said:\n{agent.Output}");
            await clients.RetainsAsync("laserwatch/bay1/alarm/air-pressure-low", "\"state\":\"unacknowledged\"");

            Assert.Equal(bare, (await folder.SamplesAsync(Channel.CoolantIn)).Select(s => s.Value).Order());
            Assert.Equal(low.Take(200), (await folder.SamplesAsync(Channel.AirPressure)).Select(s => s.Value));
            var raised = Assert.Single(await folder.AlarmLogAsync(Conditions.AirPressureLow));
            Assert.Equal((AlarmState.Unacknowledged, "birch-6-cut"), (raised.State, raised.Job));
        }
        finally
        {
            agent.Dispose();
        }
    }
}
