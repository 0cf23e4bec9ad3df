using System.Diagnostics;
using System.Globalization;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>An agent as a process of its own, with a folder, a store and free ports of its own.</summary>
internal sealed class AgentRun : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-bench-").FullName;
    private readonly HttpClient _http = new();

    /// <param name="broker">The broker's port; null: the agent is its own broker.</param>
    /// <param name="machines">Machines that are described.</param>
    public AgentRun(AgentProgram program, int? broker, int machines)
    {
        Port = broker ?? LoopbackPort.Free();
        var health = LoopbackPort.Free();
        _http.BaseAddress = new Uri($"http://127.0.0.1:{health}");
        var named = string.Join(", ", Enumerable.Range(1, machines).Select(i => $"\"{NameOf(i)}\": {{}}"));
        var config = Path.Combine(_folder, "laserwatch.json");
        var where = broker is null ? $"\"embeddedBroker\": {{ \"port\": {Port} }}" : $"\"broker\": {{ \"host\": \"127.0.0.1\", \"port\": {Port} }}";
        File.WriteAllText(config, $$"""{ {{where}}, "store": { "path": "laserwatch.db" }, "health": { "port": {{health}} }, "machines": { {{named}} } }""");
        StartedAt = Stopwatch.GetTimestamp();
        Process = program.Start(_folder, "run", "--config", config);
    }

    public Process Process { get; }

    public int Port { get; }

    /// <summary>Time stamp of the start.</summary>
    public long StartedAt { get; }

    public static string NameOf(int machine) => string.Create(CultureInfo.InvariantCulture, $"bay{machine}");

    /// <summary>Waits until the agent's own page says that it judges, hears and stores.</summary>
    public async Task UntilReadyAsync(CancellationToken stop)
    {
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
        patience.CancelAfter(TimeSpan.FromSeconds(60));
        while (true)
        {
            if (Process.HasExited)
                throw new InvalidOperationException($"The agent ended with status {Process.ExitCode} before it was ready.");
            try
            {
                using var answer = await _http.GetAsync("/agent/works", patience.Token);
                if (answer.IsSuccessStatusCode)
                    return;
            }
            catch (HttpRequestException)
            {
                // not yet
            }

            await Task.Delay(50, patience.Token);
        }
    }

    /// <summary>One number of the metrics page.</summary>
    public async Task<double> MetricAsync(string name, CancellationToken stop)
    {
        var page = await _http.GetStringAsync("/metrics", stop);
        var line = page.Split('\n').FirstOrDefault(l => l.StartsWith(name + " ", StringComparison.Ordinal)) ?? throw new InvalidOperationException($"/metrics does not show {name}.");
        return double.Parse(line[(name.Length + 1)..], CultureInfo.InvariantCulture);
    }

    public async ValueTask DisposeAsync()
    {
        if (!Process.HasExited)
        {
            Process.Kill();
            await Process.WaitForExitAsync();
        }

        Process.Dispose();
        _http.Dispose();
        Directory.Delete(_folder, recursive: true);
    }
}
