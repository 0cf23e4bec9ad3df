using System.Diagnostics;
using System.Globalization;
using System.Text;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>Processor time of the whole agent for a sample, live through mosquitto, as shops have more machines of 8 channels.</summary>
/// <remarks>
/// Twice. At the sensors' own pace, once a second each: what a service firm pays for a further machine on its one PC, where a machine alone wakes the agent for
/// every sample and a thousand share a waking. And under one load, the thousand's, that one machine alone sends too by speaking a thousand times as often:
/// then all that differs is how many machines it comes from. <see cref="Growth"/> looks into the same by hurried samples, where only the work itself is left.
/// </remarks>
internal static class LivePace
{
    /// <summary>A machine says all it has to say at once, and the machines of a shop one after the other over the second.</summary>
    private const int TurnsPerSecond = 50;

    public static Bench Bench { get; } = new("pace", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        ProcessLook.SkipWhereUnknown();
        int[] shops = length == Length.Whole ? [1, 100, 1000] : [1, 20];
        var agent = AgentProgram.Agents(length)[0];
        var (shortly, atLength) = length == Length.Whole ? ((25, 25), (75, 60)) : ((1, 2), (1, 2));
        List<double> each = [];
        foreach (var machines in shops)
            each.Add(await MeasureAsync(agent, machines, machines, machines == shops[^1] ? atLength : shortly, length, stop));
        var ofOne = await MeasureAsync(agent, 1, shops[^1], atLength, length, stop);
        var course = string.Join(", ", shops.Select((machines, i) => string.Create(CultureInfo.InvariantCulture, $"{machines}: {each[i]:0}")));
        return
        [
            new(
                $"one machine to {shops[^1]}, live through mosquitto: processor time of the whole agent a sample, {agent.Name}",
                string.Create(CultureInfo.InvariantCulture, $"{each[^1]:0} µs"), string.Create(CultureInfo.InvariantCulture, $"{each[0]:0} µs, one alone ({course})"),
                100 * ((each[^1] / each[0]) - 1), Goal.AtMost(20, "%"), (-100, 200)),
            new(
                $"the same load, {shops[^1] * ShopLoad.Channels} samples a second, of one machine and of {shops[^1]}: processor time of the whole agent a sample, {agent.Name}",
                string.Create(CultureInfo.InvariantCulture, $"{each[^1]:0.0} µs"), string.Create(CultureInfo.InvariantCulture, $"{ofOne:0.0} µs, one that speaks so often"),
                100 * ((each[^1] / ofOne) - 1), Goal.AtMost(20, "%"), (-90, 400)),
        ];
    }

    /// <param name="sayings">So often a second one of the machines speaks, each in its turn.</param>
    /// <param name="seconds">To settle, and to be measured. Under load compiling takes a minute to come to rest, and statuses and saved states of a thousand machines go round in one.</param>
    /// <returns>Microseconds.</returns>
    private static async Task<double> MeasureAsync(AgentProgram agent, int machines, int sayings, (int Settle, int Measured) seconds, Length length, CancellationToken stop)
    {
        await using var broker = await Mosquitto.StartAsync(stop);
        await using var run = new AgentRun(agent, broker.Port, machines);
        await run.UntilReadyAsync(stop);
        using var wire = new Wire(broker.Port, "sensors");
        var shop = new Packets(machines, sayings);
        var sent = 0L;
        await SendAsync(seconds.Settle);
        var before = ProcessLook.ProcessorTime(run.Process);
        var (began, sentBefore) = (Stopwatch.GetTimestamp(), sent);
        await SendAsync(seconds.Measured);
        var spent = ProcessLook.ProcessorTime(run.Process) - before;
        var behind = Stopwatch.GetElapsedTime(began).TotalSeconds / seconds.Measured;
        if (length == Length.Whole && behind > 1.05)
            throw new InvalidOperationException(string.Create(CultureInfo.InvariantCulture, $"The load of {machines} machines came {behind:0.00} times too slowly."));

        await Task.Delay(TimeSpan.FromSeconds(1), stop);
        if (await run.MetricAsync("laserwatch_samples_judged_total", stop) is var judged && judged != sent)
            throw new InvalidOperationException($"Of {sent} samples of {machines} machines {judged} were judged.");
        return spent.TotalMicroseconds / (sent - sentBefore);

        async Task SendAsync(int span)
        {
            using var timer = new PeriodicTimer(TimeSpan.FromSeconds(1.0 / TurnsPerSecond));
            var (start, turns) = (Stopwatch.GetTimestamp(), 0);
            while (turns < span * TurnsPerSecond && await timer.WaitForNextTickAsync(stop))
            {
                // A turn that the timer left out is made up for.
                for (; turns < span * TurnsPerSecond && turns <= Stopwatch.GetElapsedTime(start).TotalSeconds * TurnsPerSecond; turns++)
                    sent += shop.SendTurn(wire, turns);
            }
        }
    }

    /// <summary>What the machines say, written beforehand.</summary>
    private sealed class Packets
    {
        private const int Variants = 4;

        private readonly byte[][][] _said; // by second, by saying

        public Packets(int machines, int sayings) =>
            _said = [.. Enumerable.Range(0, Variants).Select(second => Enumerable.Range(0, sayings).Select(
                saying => Write(AgentRun.NameOf((saying % machines) + 1), (second + (saying / machines)) % Variants)).ToArray())];

        /// <returns>How many samples were sent.</returns>
        public int SendTurn(Wire wire, int turn)
        {
            var (second, part) = Math.DivRem(turn, TurnsPerSecond);
            var sayings = _said[second % Variants];
            var (from, to) = (sayings.Length * part / TurnsPerSecond, sayings.Length * (part + 1) / TurnsPerSecond);
            for (var saying = from; saying < to; saying++)
                wire.Send(sayings[saying], acknowledged: 0);
            return (to - from) * ShopLoad.Channels;
        }

        private static byte[] Write(string machine, int variant) =>
        [
            .. ShopLoad.Said(variant).SelectMany(said => Wire.Publish(
                $"laserwatch/{machine}/{said.Channel}", Encoding.UTF8.GetBytes(said.Value.ToString("0.##", CultureInfo.InvariantCulture)), packetId: 0)),
        ];
    }
}
