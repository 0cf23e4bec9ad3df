using System.Diagnostics;
using LaserWatch.Storage.Sqlite;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>The agent as a process of its own, with all its rules and a store in a folder of its own.</summary>
internal sealed class AgentProcess : IAsyncDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    private readonly Process _process;
    private readonly DirectoryInfo _folder;
    private readonly string _store;
    private readonly int _healthPort;

    private AgentProcess(Process process, DirectoryInfo folder, string store, int healthPort)
    {
        _process = process;
        _folder = folder;
        _store = store;
        _healthPort = healthPort;
    }

    public TimeSpan ProcessorTime
    {
        get
        {
            _process.Refresh();
            return _process.TotalProcessorTime;
        }
    }

    /// <param name="broker">The member of the configuration that says where the messages are.</param>
    /// <param name="rules">The members of <c>rules</c>; empty for what is shipped.</param>
    public static async Task<AgentProcess> StartAsync(string broker, string rules, CancellationToken stop)
    {
        var program = Path.Combine(AppContext.BaseDirectory, "laserwatch.dll");
        if (!File.Exists(program))
            throw new MissingPartException("laserwatch.dll is not beside the benchmarks");
        var folder = Directory.CreateTempSubdirectory("laserwatch-speed-");
        var config = Path.Combine(folder.FullName, "laserwatch.json");
        var store = Path.Combine(folder.FullName, "store.db");
        var healthPort = LoopbackPort.Free();
        await File.WriteAllTextAsync(
            config,
            $$"""
            {
              {{broker}},
              "store": { "path": "{{store}}" },
              "log": { "level": "warning" },
              "health": { "port": {{healthPort}} },
              "rules": { {{rules}} },
              "machines": {}
            }
            """,
            stop);
        var start = new ProcessStartInfo("dotnet", [program, "run", "--config", config]) { RedirectStandardError = true, RedirectStandardOutput = true };
        var process = Process.Start(start) ?? throw new MissingPartException("the agent does not start");
        var said = new List<string>();
        process.ErrorDataReceived += (_, line) => Note(line.Data);
        process.OutputDataReceived += (_, line) => Note(line.Data);
        process.BeginErrorReadLine();
        process.BeginOutputReadLine();
        var agent = new AgentProcess(process, folder, store, healthPort);
        try
        {
            await agent.AwaitReadyAsync(stop);
            return agent;
        }
        catch (Exception e) when (e is not OperationCanceledException)
        {
            await agent.DisposeAsync();
            throw new InvalidOperationException($"The agent does not come up: {string.Join(" / ", said)}", e);
        }

        void Note(string? line)
        {
            if (line is null)
                return;
            lock (said)
                said.Add(line);
        }
    }

    /// <summary>Waits until the store has so many marks of the load.</summary>
    /// <returns>The time stamp at which it had them.</returns>
    public async Task<long> AwaitMarksAsync(int marks, CancellationToken stop)
    {
        await using var store = SqliteTelemetryStore.OpenForReading(_store);
        for (var began = Stopwatch.GetTimestamp(); ;)
        {
            long kept = 0;
            for (var connection = 0; connection < ShopLoad.Connections; connection++)
                kept += (await store.ReadExtentAsync(ShopLoad.MarkMachine + connection, stop))?.Count ?? 0;
            if (kept >= marks)
                return Stopwatch.GetTimestamp();
            if (Stopwatch.GetElapsedTime(began) > Patience || _process.HasExited)
                throw new InvalidOperationException("The agent has not stored the end of the load: something was lost.");
            await Task.Delay(10, stop);
        }
    }

    /// <summary>Tells the agent to stop and counts what it has kept.</summary>
    public async Task<long> StopAndCountAsync(CancellationToken stop)
    {
        await EndAsync(stop);
        await using var store = SqliteTelemetryStore.OpenForReading(_store);
        long samples = 0;
        foreach (var machine in await store.ReadMachinesAsync(stop))
            samples += (await store.ReadExtentAsync(machine, stop))?.Count ?? 0;
        return samples;
    }

    public async ValueTask DisposeAsync()
    {
        if (!_process.HasExited)
        {
            _process.Kill();
            await _process.WaitForExitAsync();
        }

        _process.Dispose();
        _folder.Delete(recursive: true);
    }

    private async Task EndAsync(CancellationToken stop)
    {
        using var term = Process.Start("kill", ["-TERM", _process.Id.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
        await term.WaitForExitAsync(stop);
        await _process.WaitForExitAsync(stop).WaitAsync(Patience, stop);
        if (_process.ExitCode != 0)
            throw new InvalidOperationException($"The agent ended with {_process.ExitCode}.");
    }

    private async Task AwaitReadyAsync(CancellationToken stop)
    {
        using var http = new HttpClient { Timeout = TimeSpan.FromSeconds(5) };
        for (var began = Stopwatch.GetTimestamp(); ;)
        {
            try
            {
                if ((await http.GetAsync(new Uri($"http://127.0.0.1:{_healthPort}/agent/works"), stop)).IsSuccessStatusCode)
                    return;
            }
            catch (HttpRequestException)
            {
                // Not there yet.
            }

            if (Stopwatch.GetElapsedTime(began) > Patience || _process.HasExited)
                throw new TimeoutException("not ready in time");
            await Task.Delay(50, stop);
        }
    }
}
