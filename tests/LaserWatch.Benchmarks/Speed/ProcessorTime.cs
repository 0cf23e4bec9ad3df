using System.Diagnostics;
using System.Globalization;
using System.Text;
using MQTTnet;
using MQTTnet.Protocol;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>The part of one core that the whole agent takes for one machine, 8 channels once a second each, on mosquitto: with rules, store, saved states, health pages.</summary>
internal static class ProcessorTime
{
    private static readonly (string Channel, double Usual)[] Channels =
    [
        ("tube_current", 18.2), ("power", 66), ("lasing", 1), ("air_pressure", 210), ("coolant_in", 18.4), ("coolant_out", 19.1), ("coolant_flow", 3.2), ("ambient_temperature", 22.5),
    ];

    public static Bench Bench { get; } = new("processor", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        ProcessLook.SkipWhereUnknown();
        var agents = AgentProgram.Agents(length);
        var settle = length == Length.Whole ? TimeSpan.FromSeconds(20) : TimeSpan.FromSeconds(1);
        var measured = length == Length.Whole ? TimeSpan.FromSeconds(90) : TimeSpan.FromSeconds(4);
        await using var broker = await LoggingBroker.StartAsync(stop);
        List<Figure> figures = [];
        foreach (var agent in agents)
        {
            await using var run = new AgentRun(agent, broker.Port, machines: 1);
            await run.UntilReadyAsync(stop);
            using var done = CancellationTokenSource.CreateLinkedTokenSource(stop);
            var sending = SendAsync(broker.Port, done.Token);
            await Task.Delay(settle, stop);
            var (began, before) = (Stopwatch.GetTimestamp(), ProcessLook.ProcessorTime(run.Process));
            await Task.Delay(measured, stop);
            var share = (ProcessLook.ProcessorTime(run.Process) - before) / Stopwatch.GetElapsedTime(began) * 100;
            await done.CancelAsync();
            var sent = await sending;
            await Task.Delay(TimeSpan.FromSeconds(1), stop);
            var judged = await run.MetricAsync("laserwatch_samples_judged_total", stop);
            if (judged != sent)
                throw new InvalidOperationException($"Of {sent} samples {judged} were judged.");
            figures.Add(new(
                $"processor time, one machine, 8 channels each second, mosquitto, {agent.Name}", string.Create(CultureInfo.InvariantCulture, $"{share:0.00} % of a core"), "", share,
                Goal.AtMost(1, "%"), (0.01, 100)));
        }

        return figures;
    }

    /// <returns>Samples sent.</returns>
    private static async Task<long> SendAsync(int port, CancellationToken stop)
    {
        using var client = new MqttClientFactory().CreateMqttClient();
        await client.ConnectAsync(new MqttClientOptionsBuilder().WithTcpServer("127.0.0.1", port).WithClientId("sensors").Build(), CancellationToken.None);
        using var timer = new PeriodicTimer(TimeSpan.FromSeconds(1) / Channels.Length);
        var random = new Random(7);
        var sent = 0L;
        try
        {
            while (await timer.WaitForNextTickAsync(stop))
            {
                var (channel, usual) = Channels[sent % Channels.Length];
                var value = usual * (1 + (0.01 * (random.NextDouble() - 0.5)));
                var payload = Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"{value:0.0}"));
                await client.PublishAsync(
                    new MqttApplicationMessageBuilder().WithTopic($"laserwatch/{AgentRun.NameOf(1)}/{channel}").WithPayload(payload).WithQualityOfServiceLevel(MqttQualityOfServiceLevel.AtLeastOnce).Build(),
                    CancellationToken.None);
                sent++;
            }
        }
        catch (OperationCanceledException)
        {
        }

        return sent;
    }
}
