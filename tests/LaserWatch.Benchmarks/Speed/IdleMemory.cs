using System.Globalization;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>Resident memory of an agent that watches one machine and hears nothing, with its health pages, beside a bare worker.</summary>
internal static class IdleMemory
{
    public static Bench Bench { get; } = new("idle", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        ProcessLook.SkipWhereUnknown();
        var agents = AgentProgram.Agents(length);
        var settle = length == Length.Whole ? TimeSpan.FromSeconds(30) : TimeSpan.FromSeconds(2);
        await using var broker = await LoggingBroker.StartAsync(stop);
        var subscribed = broker.NextSubscriptionAsync("laserwatch/+/+");
        using var bare = AgentProgram.BareWorker.Start(Path.GetTempPath(), broker.Port.ToString(CultureInfo.InvariantCulture));
        try
        {
            await subscribed.WaitAsync(TimeSpan.FromSeconds(60), stop);
            List<Figure> figures = [];
            foreach (var agent in agents)
            {
                await using var run = new AgentRun(agent, broker.Port, machines: 1);
                await run.UntilReadyAsync(stop);
                await Task.Delay(settle, stop);
                var resident = ProcessLook.ResidentMegabytes(run.Process);
                figures.Add(new(
                    $"resident memory, idle with one machine and the health pages, {agent.Name}", Words(resident, ProcessLook.OwnMegabytes(run.Process)),
                    $"{Words(ProcessLook.ResidentMegabytes(bare), ProcessLook.OwnMegabytes(bare))}, a bare worker compiled at run time", resident,
                    Goal.AtMost(agent.IsSmall ? 45 : 90, "MB"), (5, 400)));
            }

            return figures;
        }
        finally
        {
            bare.Kill();
            await bare.WaitForExitAsync(stop);
        }
    }

    private static string Words(double resident, double own) => string.Create(CultureInfo.InvariantCulture, $"{resident:0} MB ({own:0} MB of it its own)");
}
