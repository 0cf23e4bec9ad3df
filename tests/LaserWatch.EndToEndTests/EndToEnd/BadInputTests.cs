using System.Globalization;
using System.Text;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

public sealed class BadInputTests
{
    private static readonly string[] Reasons =
    [
        "not_a_number", "not_finite", "payload_too_large", "not_utf8", "malformed_json", "malformed_time", "malformed_event",
        "job_end_without_start", "elsewhere_unknown_machine", "elsewhere_retained_without_time",
    ];

    [SkippableFact]
    public async Task A_storm_of_bad_input_loses_no_good_sample_and_is_counted_by_reason_in_the_status()
    {
        await using var broker = await RealBroker.StartAsync();
        using var folder = new AgentFolder(broker.Port);
        var clients = new MosquittoClients(broker.Port);
        var status = "";

        // Kept by the broker and handed to whoever subscribes: nobody knows how old it is.
        await clients.PublishAsync("laserwatch/bay1/coolant_out", "25"u8.ToArray(), "-r");
        using var agent = folder.Run();
        await agent.SaysAsync("Connected to the broker");
        await clients.PublishAsync("laserwatch/bay1/coolant_in", "20.5"); // so that the machine is known
        await Eventually.HoldsAsync(async () => await folder.CountAsync() == 1, () => "the machine is known");

        var good = Enumerable.Range(0, 500).Select(i => 200 + (i * 0.01)).ToList();
        await Task.WhenAll(
            clients.PublishLinesAsync("laserwatch/bay1/air_pressure", good.Select(v => v.ToString(CultureInfo.InvariantCulture)), TimeSpan.FromMilliseconds(5)),
            StormAsync(clients));

        await Eventually.HoldsAsync(async () => await folder.CountAsync() >= 501 + 2, () => $"the good samples are stored; the agent said:\n{agent.Output}");
        var pressures = (await folder.SamplesAsync(Channel.AirPressure)).Select(s => s.Value).Order().ToList();
        Assert.Equal(good, pressures);
        Assert.Equal([30, 31], (await folder.SamplesAsync(Channel.AmbientTemperature)).Select(s => s.Value).Order());

        await Eventually.HoldsAsync(
            async () =>
            {
                status = await clients.RetainedAsync("laserwatch/bay1/status") ?? "";
                return Reasons.All(reason => status.Contains($"\"{reason}\":", StringComparison.Ordinal));
            },
            () => $"the status counts {string.Join(", ", Reasons.Where(r => !status.Contains(r, StringComparison.Ordinal)))}: {status}");

        var logged = agent.Output.Split('\n').Count(line => line.Contains("not_a_number", StringComparison.Ordinal));
        Assert.Equal(1, logged);
        var (exitCode, _) = await agent.TerminateAsync(TimeSpan.FromSeconds(20));
        Assert.Equal(0, exitCode);
    }

    private static async Task StormAsync(MosquittoClients clients)
    {
        await clients.PublishLinesAsync("laserwatch/bay1/tube_current", Enumerable.Repeat("n/a", 200));
        await clients.PublishLinesAsync("laserwatch/bay1/tube_current", ["NaN", "Infinity", "-Infinity", "1e999"]);
        await clients.PublishLinesAsync("laserwatch/bay1/power", ["""{"value": 66""", """{"value": """, "[1,2", """{"value": 66, "time": "yesterday"}"""]);

        // Times that cannot be true leave the sample, at its arrival.
        await clients.PublishLinesAsync("laserwatch/bay1/ambient_temperature", ["""{"value": 30, "time": 4102444800}""", """{"value": 31, "time": 0}"""]);
        await clients.PublishLinesAsync("laserwatch/BAY 1/air_pressure", ["210"]);
        await clients.PublishLinesAsync("laserwatch/bay1/job", ["""{"event":"end"}""", """{"event":"pause"}""", "start"]);
        await clients.PublishLinesAsync("laserwatch/bay1/command", ["""{"do":"acknowledge"}""", "{}"]);
        var random = new Random(3);
        for (var i = 0; i < 5; i++)
        {
            var bytes = new byte[1024 * 1024];
            random.NextBytes(bytes);
            await clients.PublishAsync("laserwatch/bay1/coolant_flow", bytes);
            await clients.PublishAsync("laserwatch/bay1/coolant_flow", [0xC3, 0x28, 0xFF]);
            await clients.PublishAsync("laserwatch/bay1/coolant_flow", Encoding.UTF8.GetBytes(new string('[', 2000)));
        }
    }
}
