using LaserWatch.Configuration;
using LaserWatch.Health;
using LaserWatch.Mqtt;
using LaserWatch.Pipeline;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Serilog.Core;

namespace LaserWatch.Demo;

/// <summary>The agent as it is installed, on its embedded broker at a free port and a store in a folder that goes with it.</summary>
public sealed class DemoAgent : IAsyncDisposable
{
    private readonly string _folder;
    private readonly SqliteTelemetryStore _store;
    private readonly Logger _log;
    private readonly IHost _host;

    /// <exception cref="StoreException">The store cannot be made.</exception>
    /// <exception cref="IOException">The folder cannot be made.</exception>
    public DemoAgent(DemoScenario scenario)
    {
        _folder = Directory.CreateTempSubdirectory("laserwatch-demo-").FullName;
        Options = new LaserWatchOptions
        {
            EmbeddedBroker = new ConfiguredEmbeddedBroker { Port = 0 },
            Store = new StoreOptions { Path = Path.Combine(_folder, "laserwatch.db") },
            // Alarms are shown by one who subscribes to them; the log tells of trouble only.
            Log = new LogOptions { Level = LogSeverity.Error },
            // The scenario plays in the past weeks.
            Input = LaserWatchOptions.Default.Input with { PastLimitSeconds = 100 * 86_400 },
            JobRecords = scenario.Jobs,
            // Nobody watches the demonstration, and an agent may run beside it.
            Health = new HealthOptions { Enabled = false },
        };
        _store = SqliteTelemetryStore.Open(Options.Store);
        _log = AgentLog.Create(Options.Log);
        _host = Composition.Build(Options, _store, _log);
    }

    public LaserWatchOptions Options { get; }

    /// <summary>What ended the agent by itself; null while it runs.</summary>
    public Exception? Failure => _host.Services.GetRequiredService<WatchWorker>().Failure;

    /// <summary>Starts the agent, and calls its broker as a sensor does.</summary>
    /// <exception cref="IOException">The broker cannot be reached.</exception>
    public async Task<AgentCall> StartAsync(CancellationToken stop)
    {
        await _host.StartAsync(stop);
        var link = (EmbeddedBrokerLink)_host.Services.GetRequiredService<IBrokerLink>();
        while (!link.IsConnected)
        {
            if (Failure is { } failure)
                throw new IOException($"The agent did not start: {failure.Message}", failure);
            await Task.Delay(20, stop);
        }

        return await AgentCall.OpenAsync(
            new ConfiguredBroker { Host = "127.0.0.1", Port = link.Port, ClientId = "demo" },
            [$"{Options.Broker.TopicRoot}/+/alarm/+"], stop);
    }

    public Task StopAsync(CancellationToken stop) => _host.StopAsync(stop);

    public async ValueTask DisposeAsync()
    {
        _host.Dispose();
        await _store.DisposeAsync();
        await _log.DisposeAsync();
        Directory.Delete(_folder, recursive: true);
    }
}
