using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Serilog.Core;

namespace LaserWatch.Health;

/// <summary>The whole agent in this process, as <c>laserwatch run</c> composes it, on free loopback ports.</summary>
internal sealed class HostedAgent : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-health-").FullName;
    private readonly SqliteTelemetryStore _store;
    private readonly Logger _log = new Serilog.LoggerConfiguration().CreateLogger();
    private readonly IHost _host;

    private HostedAgent(HealthOptions health)
    {
        var options = new LaserWatchOptions
        {
            EmbeddedBroker = new ConfiguredEmbeddedBroker { Port = 0 },
            Store = new StoreOptions { Path = Path.Combine(_folder, "laserwatch.db") },
            Health = health,
        };
        _store = SqliteTelemetryStore.Open(options.Store);
        _host = Composition.Build(options, _store, _log);
    }

    /// <summary>Asks its pages.</summary>
    public HttpClient Http { get; } = new() { Timeout = TimeSpan.FromSeconds(20) };

    /// <summary>The embedded broker's port.</summary>
    public int Broker => ((EmbeddedBrokerLink)_host.Services.GetRequiredService<IBrokerLink>()).Port;

    public Uri? Address => _host.Services.GetRequiredService<HealthWorker>().Address;

    /// <summary>Returns once its broker listens and its pages can be read.</summary>
    public static async Task<HostedAgent> StartAsync(HealthOptions? health = null)
    {
        var agent = new HostedAgent(health ?? new HealthOptions { Port = 0 });
        await agent._host.StartAsync();
        await RealBroker.UntilAsync(() => agent.Link.IsConnected, "the embedded broker does not listen");
        if (agent._host.Services.GetRequiredService<HealthOptions>() is { Enabled: true, Port: 0 })
            await RealBroker.UntilAsync(() => agent.Address is not null, "there are no pages");
        agent.Http.BaseAddress = agent.Address;
        return agent;
    }

    public async ValueTask DisposeAsync()
    {
        Http.Dispose();
        await _host.StopAsync();
        _host.Dispose();
        await _store.DisposeAsync();
        await _log.DisposeAsync();
        Directory.Delete(_folder, recursive: true);
    }

    private IBrokerLink Link => _host.Services.GetRequiredService<IBrokerLink>();
}
