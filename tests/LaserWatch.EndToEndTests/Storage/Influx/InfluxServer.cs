using System.Diagnostics;
using System.Net;
using System.Text.Json;
using LaserWatch.Mqtt;

namespace LaserWatch.Storage.Influx;

/// <summary>An <c>influxd</c> 1.x of its own on a free loopback port, with its data in a temporary folder. Ends only the process that it started.</summary>
public sealed class InfluxServer : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("lw-influxd").FullName;
    private readonly HttpClient _http = new();
    private Process? _process;

    private InfluxServer()
    {
    }

    public int Port { get; } = RealBroker.FreePort();

    public static async Task<InfluxServer> StartAsync()
    {
        var server = new InfluxServer();
        await File.WriteAllTextAsync(Path.Combine(server._folder, "influxd.conf"), $"""
            reporting-disabled = true
            bind-address = "127.0.0.1:{RealBroker.FreePort()}"
            [meta]
            dir = "{server._folder}/meta"
            [data]
            dir = "{server._folder}/data"
            wal-dir = "{server._folder}/wal"
            query-log-enabled = false
            [http]
            bind-address = "127.0.0.1:{server.Port}"
            log-enabled = false
            [monitor]
            store-enabled = false
            [continuous_queries]
            enabled = false
            [logging]
            level = "error"
            """);
        await server.RunAsync();
        return server;
    }

    public async Task RunAsync()
    {
        _process = Process.Start(new ProcessStartInfo(Needs.Program("influxd"), ["run", "-config", Path.Combine(_folder, "influxd.conf")])
        {
            RedirectStandardError = true,
            RedirectStandardOutput = true,
        })!;
        _process.OutputDataReceived += (_, _) => { };
        _process.ErrorDataReceived += (_, _) => { };
        _process.BeginOutputReadLine();
        _process.BeginErrorReadLine();
        var clock = Stopwatch.StartNew();
        while (true)
        {
            try
            {
                using var answer = await _http.GetAsync(new Uri($"http://127.0.0.1:{Port}/ping"));
                if (answer.StatusCode == HttpStatusCode.NoContent)
                    return;
            }
            catch (HttpRequestException) when (clock.Elapsed < TimeSpan.FromSeconds(30))
            {
                await Task.Delay(50);
            }
        }
    }

    /// <summary>SIGKILL: as if the server's power went.</summary>
    public async Task KillAsync()
    {
        if (_process is null)
            return;
        if (!_process.HasExited)
            _process.Kill();
        await _process.WaitForExitAsync();
        _process.Dispose();
        _process = null;
    }

    /// <summary>One shard for all of time: a test with wild times must not make hundreds.</summary>
    public void CreateDatabase(string name) => Ask($"CREATE DATABASE \"{name}\" WITH SHARD DURATION 15000w", null);

    /// <summary>The rows of the first table of an InfluxQL statement.</summary>
    public IReadOnlyList<JsonElement> Ask(string statement, string? database)
    {
        using var request = new HttpRequestMessage(
            HttpMethod.Post, $"http://127.0.0.1:{Port}/query?epoch=ns&db={database}&q={Uri.EscapeDataString(statement)}");
        using var answer = _http.Send(request);
        using var body = answer.Content.ReadAsStream();
        using var json = JsonDocument.Parse(body);
        var result = json.RootElement.GetProperty("results")[0];
        Assert.False(result.TryGetProperty("error", out var error), error.ToString());
        return result.TryGetProperty("series", out var series) ? [.. series[0].GetProperty("values").EnumerateArray().Select(row => row.Clone())] : [];
    }

    public async ValueTask DisposeAsync()
    {
        await KillAsync();
        _http.Dispose();
        Directory.Delete(_folder, recursive: true);
    }
}
