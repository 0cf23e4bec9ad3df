namespace LaserWatch.Benchmarks.Speed;

/// <summary>The embedded broker with all behind it, beside the same library's broker with a handler that only counts.</summary>
public static class BrokerBench
{
    private const int Machines = 100;

    public static Bench Bench { get; } = new("broker", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        List<Figure> figures = [];
        foreach (var qos in new[] { 0, 1 })
        {
            var messages = length == Length.Smoke ? 10_000 : qos == 0 ? 3_000_000 : 600_000;
            var (ourPort, barePort) = (LoopbackPort.Free(), LoopbackPort.Free());
            var race = new SpeedRace(qos, Machines, PayloadForm.Bare, messages, length == Length.Smoke ? 1 : 2);
            var (ours, bare) = await race.RunAsync(
                new(ourPort, () => AgentProcess.StartAsync($$"""
                    "embeddedBroker": { "port": {{ourPort}} }
                    """, "", stop)),
                new(barePort, () => Yardstick.StartAsync("broker", barePort, stop)), stop);
            figures.Add(new Figure(
                $"embedded broker to durable store, all rules on, QoS {qos}",
                ours.ToString(), $"{bare}, the same broker with an empty handler", ours.PerSecond / bare.PerSecond, Goal.AtLeast(0.5), (0.02, 10)));
        }

        return figures;
    }
}
