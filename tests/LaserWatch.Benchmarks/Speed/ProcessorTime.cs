using System.Diagnostics;
using System.Globalization;
using System.Text;
using MQTTnet;
using MQTTnet.Protocol;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>The part of one core that the whole agent takes for one machine, 8 channels once a second each, on mosquitto: with rules, store, saved states, health pages.</summary>
/// <remarks>
/// Twice: over its first minutes, in which the full build compiles what is often used and compiles it again, better; and when that has come to
/// rest, as it is for the years to come. That one is judged. One program after the other: two at once took half as much again each.
/// </remarks>
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
        List<Figure> figures = [];
        foreach (var agent in AgentProgram.Agents(length))
            figures.Add(await MeasureAsync(agent, length, stop));
        return figures;
    }

    private static async Task<Figure> MeasureAsync(AgentProgram agent, Length length, CancellationToken stop)
    {
        var (settle, first, rest, measured) = length == Length.Whole ? (20, 90, 240, 120) : (1, 2, 0, 2);
        await using var broker = await LoggingBroker.StartAsync(stop);
        await using var run = new AgentRun(agent, broker.Port, machines: 1);
        await run.UntilReadyAsync(stop);
        using var done = CancellationTokenSource.CreateLinkedTokenSource(stop);
        var sending = SendAsync(broker.Port, done.Token);
        await Task.Delay(TimeSpan.FromSeconds(settle), stop);
        var early = await ShareAsync(run.Process, TimeSpan.FromSeconds(first), stop);
        await Task.Delay(TimeSpan.FromSeconds(rest), stop);
        var steady = await ShareAsync(run.Process, TimeSpan.FromSeconds(measured), stop);
        await done.CancelAsync();
        var sent = await sending;
        await Task.Delay(TimeSpan.FromSeconds(1), stop);
        var judged = await run.MetricAsync("laserwatch_samples_judged_total", stop);
        if (judged != sent)
            throw new InvalidOperationException($"Of {sent} samples {judged} were judged.");
        return new(
            $"processor time, one machine, 8 channels each second, mosquitto, {agent.Name}",
            string.Create(CultureInfo.InvariantCulture, $"{steady:0.00} % of a core (its seconds {settle} to {settle + first}: {early:0.00} %)"), "", steady, Goal.AtMost(1, "%"), (0.01, 100));
    }

    /// <returns>Percent of a core.</returns>
    private static async Task<double> ShareAsync(Process process, TimeSpan span, CancellationToken stop)
    {
        var (began, before) = (Stopwatch.GetTimestamp(), ProcessLook.ProcessorTime(process));
        await Task.Delay(span, stop);
        return (ProcessLook.ProcessorTime(process) - before) / Stopwatch.GetElapsedTime(began) * 100;
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
