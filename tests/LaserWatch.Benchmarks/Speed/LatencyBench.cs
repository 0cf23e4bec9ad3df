using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using MQTTnet;
using MQTTnet.Formatter;
using MQTTnet.Protocol;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>From a sample to its alarm on the broker, beside the same message echoed by a bare client: the same moments, the same load.</summary>
public static class LatencyBench
{
    private const int Machines = 200;
    private const int MessagesPerSecond = 5000;
    private const int Ahead = Machines / 4;
    private const string Probe = "probe";
    private const string EchoRoot = "echo/";

    private static readonly TimeSpan WarmUp = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan BetweenTriggers = TimeSpan.FromMilliseconds(20);

    public static Bench Bench { get; } = new("latency", MeasureAsync);

    /// <summary>What the bare client hears, to echo it.</summary>
    public static string Triggers => "laserwatch/+/" + Probe;

    public static string EchoOf(string topic) => EchoRoot + topic.Split('/')[1];

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        await using var broker = await Mosquitto.StartAsync(stop);
        await using var agent = await AgentProcess.StartAsync(
            $$"""
            "broker": { "host": "127.0.0.1", "port": {{broker.Port}}, "sessionExpiryHours": 0 }
            """,
            $$"""
            "limits": { "{{Probe}}": { "high": 0.5, "onDelaySeconds": 0, "offDelaySeconds": 0, "priority": "low" } },
            "alarms": { "chatterTimes": 100, "chatterSeconds": 1 }
            """,
            stop);
        await using var echo = await Yardstick.StartAsync("echo", broker.Port, stop);
        var (alarms, echoes) = await RunAsync(broker.Port, length == Length.Smoke ? TimeSpan.FromSeconds(2) : TimeSpan.FromSeconds(40), length, stop);
        var (ours, bare) = (Percentile(alarms, 0.99), Percentile(echoes, 0.99));
        return
        [
            new Figure(
                $"sample to alarm published, {MessagesPerSecond} samples/s over {Machines} machines, 99th percentile beyond the echo",
                Print(alarms), $"{Print(echoes)}, the same message echoed by a bare client", ours - bare, Goal.AtMost(20, "ms"), (-2000, 3000)),
        ];
    }

    private static async Task<(List<double> Alarms, List<double> Echoes)> RunAsync(int port, TimeSpan span, Length length, CancellationToken stop)
    {
        var sent = new ConcurrentDictionary<string, long>(StringComparer.Ordinal);
        var (alarms, echoes) = (new Heard(sent), new Heard(sent));
        using var listener = new MqttClientFactory().CreateMqttClient();
        listener.ApplicationMessageReceivedAsync += args =>
        {
            var now = Stopwatch.GetTimestamp();
            var topic = args.ApplicationMessage.Topic;
            if (topic.StartsWith(EchoRoot, StringComparison.Ordinal))
                echoes.Take(topic[EchoRoot.Length..], now);
            else
                alarms.Take(topic.Split('/')[1], now);
            return Task.CompletedTask;
        };
        await listener.ConnectAsync(
            new MqttClientOptionsBuilder().WithTcpServer("127.0.0.1", port).WithProtocolVersion(MqttProtocolVersion.V500).WithClientId("listener").Build(), stop);
        await listener.SubscribeAsync(
            new MqttClientSubscribeOptionsBuilder()
                .WithTopicFilter("laserwatch/+/alarm/" + Probe + "-out-of-limits", MqttQualityOfServiceLevel.AtLeastOnce)
                .WithTopicFilter(EchoRoot + "+", MqttQualityOfServiceLevel.AtLeastOnce).Build(), stop);

        using var load = new ShopLoad(port, qos: 0, Machines, PayloadForm.Bare);
        using var wire = new Wire(port, "triggers");
        var began = Stopwatch.GetTimestamp();
        var measureAfter = length == Length.Smoke ? Machines : (int)(WarmUp / BetweenTriggers);
        var (paced, triggers, measured) = (0, 0, 0);
        for (TimeSpan at; (at = Stopwatch.GetElapsedTime(began)) < (measureAfter * BetweenTriggers) + span;)
        {
            for (; paced < at.TotalSeconds * MessagesPerSecond; paced++)
                load.SendOne();
            if (triggers < at / BetweenTriggers)
            {
                // A rule wants a second sample to agree before it says that something is wrong: the first goes ahead.
                if (IsHigh(triggers + Ahead))
                    wire.Send(Trigger(triggers + Ahead), 0);
                var machine = ShopLoad.MachineName(triggers % Machines);
                if (triggers >= measureAfter)
                {
                    measured++;
                    sent[machine] = Stopwatch.GetTimestamp();
                }

                wire.Send(Trigger(triggers), 0);
                triggers++;
            }

            await Task.Delay(1, stop);
        }

        for (var waited = 0; waited < 100 && (alarms.Count < measured || echoes.Count < measured); waited++)
            await Task.Delay(50, stop);
        return alarms.Count >= measured && echoes.Count >= measured
            ? (alarms.Milliseconds, echoes.Milliseconds)
            : throw new InvalidOperationException($"Of {measured} changes {alarms.Count} came as alarms, and {echoes.Count} were echoed.");
    }

    private static bool IsHigh(int trigger) => trigger / Machines % 2 == 1;

    private static byte[] Trigger(int number) =>
        Wire.Publish($"laserwatch/{ShopLoad.MachineName(number % Machines)}/{Probe}", IsHigh(number) ? "1"u8 : "0"u8, 0);

    private static double Percentile(List<double> values, double share) => values.Order().ElementAt((int)(share * (values.Count - 1)));

    private static string Print(List<double> values) => string.Create(
        CultureInfo.InvariantCulture, $"{Percentile(values, 0.5):0.0} ms, 99 %: {Percentile(values, 0.99):0.0} ms, longest {values.Max():0} ms");

    /// <summary>The first word of a machine after each time it was sent something.</summary>
    private sealed class Heard(ConcurrentDictionary<string, long> sent)
    {
        private readonly Dictionary<string, long> _answered = new(StringComparer.Ordinal);
        private readonly List<double> _milliseconds = [];

        public int Count
        {
            get
            {
                lock (_answered)
                    return _milliseconds.Count;
            }
        }

        public List<double> Milliseconds
        {
            get
            {
                lock (_answered)
                    return [.. _milliseconds];
            }
        }

        public void Take(string machine, long now)
        {
            lock (_answered)
            {
                if (!sent.TryGetValue(machine, out var at) || _answered.GetValueOrDefault(machine) == at)
                    return;
                _answered[machine] = at;
                _milliseconds.Add(Stopwatch.GetElapsedTime(at, now).TotalMilliseconds);
            }
        }
    }
}
