using System.Diagnostics;
using System.Globalization;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>How fast messages were taken, and what each cost who took them.</summary>
internal sealed record Pace(double PerSecond, double ProcessorMicroseconds)
{
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{PerSecond / 1000:0.0} k/s ({ProcessorMicroseconds:0.0} µs of a core each)");
}

/// <summary>Who takes the load, and at which port it is sent.</summary>
internal sealed record Runner<T>(int Port, Func<Task<T>> StartAsync);

/// <summary>The same load to the agent and to a yardstick, in turns; the best of each. What the agent was sent must be in its store.</summary>
/// <remarks>What nobody waits for is committed once a second, and so the agent's time is one of whole seconds, mostly too long: a load must take many.</remarks>
internal sealed class SpeedRace(int qos, int machines, PayloadForm form, int messages, int rounds)
{
    public async Task<(Pace Ours, Pace Bare)> RunAsync(Runner<AgentProcess> agent, Runner<Yardstick> yardstick, CancellationToken stop)
    {
        List<Pace> ours = [], bare = [];
        for (var round = 0; round < rounds; round++)
        {
            bare.Add(await RunBareAsync(yardstick, stop));
            ours.Add(await RunAgentAsync(agent, stop));
        }

        return (ours.MaxBy(p => p.PerSecond)!, bare.MaxBy(p => p.PerSecond)!);
    }

    private async Task<Pace> RunBareAsync(Runner<Yardstick> runner, CancellationToken stop)
    {
        await using var yardstick = await runner.StartAsync();
        using var load = new ShopLoad(runner.Port, qos, machines, form);
        await RunOnceAsync(messages / 2); // until the compiler has come to rest
        return await RunOnceAsync(messages);

        async Task<Pace> RunOnceAsync(int count)
        {
            var before = yardstick.ProcessorTime;
            await yardstick.ExpectAsync(ShopLoad.Whole(count), stop);
            var (sent, began) = load.Send(count);
            var ended = await yardstick.DoneAsync(stop);
            return PaceOf(sent, began, ended, yardstick.ProcessorTime - before);
        }
    }

    private async Task<Pace> RunAgentAsync(Runner<AgentProcess> runner, CancellationToken stop)
    {
        await using var agent = await runner.StartAsync();
        long all = 0;
        Pace pace;
        using (var load = new ShopLoad(runner.Port, qos, machines, form))
        {
            await RunOnceAsync(messages / 2, ShopLoad.Connections);
            pace = await RunOnceAsync(messages, 2 * ShopLoad.Connections);

            async Task<Pace> RunOnceAsync(int count, int marks)
            {
                var before = agent.ProcessorTime;
                var (sent, began) = load.Send(count);
                var ended = await agent.AwaitMarksAsync(marks, stop);
                all += sent;
                return PaceOf(sent, began, ended, agent.ProcessorTime - before);
            }
        }

        var kept = await agent.StopAndCountAsync(stop);
        return kept == all ? pace : throw new InvalidOperationException($"Of {all} samples the store has {kept}.");
    }

    private static Pace PaceOf(int sent, long began, long ended, TimeSpan processor) =>
        new(sent / Stopwatch.GetElapsedTime(began, ended).TotalSeconds, processor.TotalMicroseconds / sent);
}
