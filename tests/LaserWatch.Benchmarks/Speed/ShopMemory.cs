using System.Globalization;
using System.Text;
using MQTTnet;
using MQTTnet.Protocol;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>Resident memory of an agent over a day of a whole shop: 200 machines, 8 channels each once a second, faster than time.</summary>
/// <remarks>
/// The sensors' own times make the day; packs of ten seconds go to the agent's own broker as fast as it takes them. Looked at every half
/// hour of the day. Flat: the last quarter of the day against the quarter before it.
/// </remarks>
internal static class ShopMemory
{
    private const int SecondsAPack = 10;

    // In real time a shop of this size has some hundred messages unacknowledged; a crowd that only the hurry makes would be measured as the agent's.
    private const int MostUnderWay = 50;

    private static readonly (string Channel, double Usual)[] Channels =
    [
        ("tube_current", 18.2), ("power", 66), ("lasing", 1), ("air_pressure", 210), ("coolant_in", 18.4), ("coolant_out", 19.1), ("coolant_flow", 3.2), ("ambient_temperature", 22.5),
    ];

    public static Bench Bench { get; } = new("memory", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        ProcessLook.SkipWhereUnknown();
        var (machines, day, every) = length == Length.Whole ? (200, TimeSpan.FromHours(24), TimeSpan.FromMinutes(30)) : (5, TimeSpan.FromMinutes(20), TimeSpan.FromMinutes(1));
        var agent = AgentProgram.Agents(length)[0];
        await using var run = new AgentRun(agent, broker: null, machines);
        await run.UntilReadyAsync(stop);
        var looks = await SendAsync(run, machines, day, every, stop);

        var quarter = looks.Count / 4;
        var (most, growth) = (looks.Max(), looks.TakeLast(quarter).Average() / looks.SkipLast(quarter).TakeLast(quarter).Average());
        var what = string.Create(CultureInfo.InvariantCulture, $"{machines} machines × 8 channels each second, {(day.TotalHours >= 1 ? $"{day.TotalHours:0} h" : $"{day.TotalMinutes:0} min")}");
        return
        [
            new($"resident memory at most, {what}, {agent.Name}", string.Create(CultureInfo.InvariantCulture, $"{most:0} MB"), "", most, Goal.AtMost(160, "MB"), (5, 1000)),
            new("resident memory, the last quarter of that day against the one before", string.Create(CultureInfo.InvariantCulture, $"{growth:0.000}"), "", growth, Goal.AtMost(1.05), (0.3, 3)),
        ];
    }

    private static async Task<List<double>> SendAsync(AgentRun run, int machines, TimeSpan day, TimeSpan every, CancellationToken stop)
    {
        using var client = new MqttClientFactory().CreateMqttClient();
        await client.ConnectAsync(new MqttClientOptionsBuilder().WithTcpServer("127.0.0.1", run.Port).WithClientId("sensors").WithProtocolVersion(MQTTnet.Formatter.MqttProtocolVersion.V500).Build(), stop);
        using var underWay = new SemaphoreSlim(MostUnderWay);
        var seconds = (long)day.TotalSeconds;
        var begin = TimeProvider.System.GetUtcNow().ToUnixTimeSeconds() - seconds;
        List<double> looks = [];
        List<Task> packs = [];
        for (var second = 0L; second < seconds; second += SecondsAPack)
        {
            for (var machine = 1; machine <= machines; machine++)
            {
                await underWay.WaitAsync(stop);
                packs.Add(SendPackAsync(client, machine, begin + second, underWay, stop));
            }

            if ((second + SecondsAPack) % (long)every.TotalSeconds == 0)
            {
                await Task.WhenAll(packs);
                packs.Clear();
                looks.Add(ProcessLook.ResidentMegabytes(run.Process));
            }
        }

        await Task.WhenAll(packs);
        var sent = seconds * machines * Channels.Length;
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
        patience.CancelAfter(TimeSpan.FromMinutes(2));
        while (await run.MetricAsync("laserwatch_samples_stored_total", patience.Token) < sent)
            await Task.Delay(200, patience.Token);
        if (await run.MetricAsync("laserwatch_samples_judged_total", stop) is var judged && judged != sent)
            throw new InvalidOperationException($"Of {sent} samples {judged} were judged.");
        looks.Add(ProcessLook.ResidentMegabytes(run.Process));
        return looks;
    }

    private static async Task SendPackAsync(IMqttClient client, int machine, long from, SemaphoreSlim underWay, CancellationToken stop)
    {
        try
        {
            await client.PublishAsync(
                new MqttApplicationMessageBuilder().WithTopic($"laserwatch/{AgentRun.NameOf(machine)}/pack").WithPayload(Pack(machine, from))
                    .WithQualityOfServiceLevel(MqttQualityOfServiceLevel.AtLeastOnce).Build(),
                stop);
        }
        finally
        {
            underWay.Release();
        }
    }

    private static byte[] Pack(int machine, long from)
    {
        var text = new StringBuilder(4000);
        for (var second = 0; second < SecondsAPack; second++)
        {
            foreach (var (channel, usual) in Channels)
            {
                text.Append(text.Length == 0 ? string.Create(CultureInfo.InvariantCulture, $"[{{\"bt\":{from},") : ",{");
                // A slow swing and a little noise, as decimals: what a sensor sends.
                var phase = ((from + second) * 0.01) + machine;
                var value = channel is "lasing" or "power" ? usual : usual * (1 + (0.01 * Math.Sin(phase)) + (0.002 * Math.Sin(phase * 91)));
                text.Append(CultureInfo.InvariantCulture, $"\"n\":\"{channel}\",\"t\":{second},\"v\":{value:0.0}}}");
            }
        }

        return Encoding.UTF8.GetBytes(text.Append(']').ToString());
    }
}
