using LaserWatch.Benchmarks.Speed;
using LaserWatch.Configuration;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Storage.Influx;

/// <summary>One server, its shim, and a database and a folder for each store of the tests that share them.</summary>
public sealed class InfluxShop : IAsyncLifetime, IDisposable
{
    private readonly TemporaryFolder _folder = new();
    private InfluxServer? _server;
    private V2Shim? _shim;
    private int _stores;

    /// <exception cref="SkipException">influxd is not installed.</exception>
    public InfluxServer Server
    {
        get
        {
            Needs.Program("influxd");
            return _server!;
        }
    }

    public V2Shim Shim => _shim!;

    public string File(string name) => _folder.File(name);

    /// <summary>Options with a database, a side file and the right token.</summary>
    public StoreOptions Options(StoreOptions? options = null)
    {
        var name = $"shop {Interlocked.Increment(ref _stores)}";
        Server.CreateDatabase(name);
        return (options ?? new StoreOptions()) with
        {
            Path = _folder.File($"{name}.db"),
            Influx = new InfluxOptions { Url = Shim.Url, Bucket = name, Organisation = "shop", Token = new Secret { File = _folder.File("token") }, IntervalMs = 0 },
        };
    }

    public static InfluxTelemetryStore Open(StoreOptions options) =>
        InfluxTelemetryStore.Open(options, TimeSpan.FromSeconds(2), TimeProvider.System, NullLogger.Instance);

    public async Task InitializeAsync()
    {
        if (Installed.Program("influxd") is null)
            return;
        await System.IO.File.WriteAllTextAsync(_folder.File("token"), V2Shim.Token + "\n");
        _server = await InfluxServer.StartAsync();
        _shim = new V2Shim(_server.Port);
    }

    public async Task DisposeAsync()
    {
        if (_shim is not null)
            await _shim.DisposeAsync();
        if (_server is not null)
            await _server.DisposeAsync();
    }

    public void Dispose() => _folder.Dispose();
}
