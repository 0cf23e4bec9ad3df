using System.Diagnostics;
using System.Globalization;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>From the start of the process until the broker says that the agent is subscribed, beside a bare worker that does only that.</summary>
/// <remarks>Program files are in the page cache: the first round warms and does not count. The median of the others counts.</remarks>
internal static class StartSpeed
{
    private const string Filter = "laserwatch/+/+";

    public static Bench Bench { get; } = new("start", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        var agents = AgentProgram.Agents(length);
        var rounds = length == Length.Whole ? 11 : 1;
        await using var broker = await LoggingBroker.StartAsync(stop);
        var bare = new List<double>();
        var took = agents.ToDictionary(agent => agent, _ => new List<double>());
        for (var round = 0; round <= rounds; round++)
        {
            bare.Add(await BareAsync(broker, stop));
            foreach (var agent in agents)
                took[agent].Add(await AgentAsync(agent, broker, stop));
        }

        return
        [
            .. agents.Select(agent => new Figure(
                $"start to subscribed, {agent.Name}", Words(Median(took[agent])), $"{Words(Median(bare))}, a bare worker compiled at run time", Median(took[agent]),
                Goal.AtMost(agent.IsSmall ? 250 : 1200, "ms"), (5, 60_000))),
        ];
    }

    private static async Task<double> AgentAsync(AgentProgram program, LoggingBroker broker, CancellationToken stop)
    {
        var subscribed = broker.NextSubscriptionAsync(Filter);
        await using var run = new AgentRun(program, broker.Port, machines: 1);
        return Milliseconds(run.StartedAt, await subscribed.WaitAsync(TimeSpan.FromSeconds(60), stop));
    }

    private static async Task<double> BareAsync(LoggingBroker broker, CancellationToken stop)
    {
        var subscribed = broker.NextSubscriptionAsync(Filter);
        var began = Stopwatch.GetTimestamp();
        using var process = AgentProgram.BareWorker.Start(Path.GetTempPath(), broker.Port.ToString(CultureInfo.InvariantCulture));
        try
        {
            return Milliseconds(began, await subscribed.WaitAsync(TimeSpan.FromSeconds(60), stop));
        }
        finally
        {
            process.Kill();
            await process.WaitForExitAsync(stop);
        }
    }

    private static double Milliseconds(long from, long to) => Stopwatch.GetElapsedTime(from, to).TotalMilliseconds;

    private static double Median(List<double> rounds) => rounds.Skip(1).Order().ElementAt((rounds.Count - 1) / 2);

    private static string Words(double milliseconds) => string.Create(CultureInfo.InvariantCulture, $"{milliseconds:0} ms");
}
