namespace LaserWatch.Benchmarks.Speed;

/// <summary>From a real mosquitto to the durable store, all rules on, beside a bare client of the same library that only counts.</summary>
public static class IngestBench
{
    private const int Machines = 100;

    public static Bench Bench { get; } = new("ingest", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        List<Figure> figures = [];
        (int, PayloadForm)[] loads = [(0, PayloadForm.Bare), (1, PayloadForm.Bare), (0, PayloadForm.Json)];
        foreach (var (qos, form) in length == Length.Smoke ? loads[..2] : loads)
        {
            await using var broker = await Mosquitto.StartAsync(stop);
            var messages = length == Length.Smoke ? 10_000 : qos == 0 ? 600_000 : 300_000;
            var race = new SpeedRace(qos, Machines, form, messages, length == Length.Smoke ? 1 : 2);

            // Without a session that outlives the connection: the broker would gather the yardstick's load in it.
            var (ours, bare) = await race.RunAsync(
                new(broker.Port, () => AgentProcess.StartAsync($$"""
                    "broker": { "host": "127.0.0.1", "port": {{broker.Port}}, "sessionExpiryHours": 0 }
                    """, "", stop)),
                new(broker.Port, () => Yardstick.StartAsync("client", broker.Port, stop)), stop);
            figures.Add(new Figure(
                $"mosquitto to durable store, all rules on, QoS {qos}{(form == PayloadForm.Json ? ", JSON" : "")}",
                ours.ToString(), $"{bare}, a bare client that counts", ours.PerSecond / bare.PerSecond, Goal.AtLeast(0.7), (0.05, 10)));
        }

        return figures;
    }
}
