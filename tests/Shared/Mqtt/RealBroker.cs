using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using LaserWatch.Benchmarks.Speed;

namespace LaserWatch.Mqtt;

/// <summary>A mosquitto of its own on a free loopback port, and its command line clients.</summary>
/// <remarks>Skips the test, saying why, where mosquitto is not installed. Ends only the processes that it started.</remarks>
public sealed class RealBroker : IAsyncDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(20);

    private readonly string[] _settings;
    private readonly List<Process> _clients = [];
    private Process? _process;

    private RealBroker(string[] settings)
    {
        _settings = settings;
        Folder = Directory.CreateTempSubdirectory("lw-broker").FullName;
        Port = FreePort();
    }

    public int Port { get; }

    public string Folder { get; }

    /// <summary>What listeners say of a message, beginning with its topic, in the words of <c>mosquitto_sub -F</c>.</summary>
    public string Format { get; set; } = "%t %p";

    /// <summary>Below it a listener finds out that it is subscribed; where an access list holds, a level that its user may write and read.</summary>
    public string ProbeLevel { get; set; } = "probe";

    /// <param name="settings">Lines of mosquitto.conf; <c>FOLDER</c> stands for the temporary folder. None: anybody may come.</param>
    /// <param name="files">Called with the temporary folder before the start.</param>
    public static async Task<RealBroker> StartAsync(string[]? settings = null, Action<string>? files = null)
    {
        Needs.Mosquitto();
        var broker = new RealBroker(settings ?? ["allow_anonymous true"]);
        files?.Invoke(broker.Folder);
        await broker.RestartAsync();
        return broker;
    }

    public async Task RestartAsync()
    {
        var config = Path.Combine(Folder, "mosquitto.conf");
        string[] always =
        [
            // Started by root it would turn into a user that cannot read the folder.
            "user root",
            $"listener {Port} 127.0.0.1",
            "persistence true",
            $"persistence_location {Folder}/",
            "autosave_interval 1",
            "max_queued_messages 0",
            "log_dest none",
        ];
        await File.WriteAllLinesAsync(config, always.Concat(_settings.Select(s => s.Replace("FOLDER", Folder, StringComparison.Ordinal))));
        _process = Start("mosquitto", "-c", config);
        await UntilAsync(() => Answers(Port), "mosquitto does not listen");
    }

    /// <summary>An orderly stop: it saves its sessions.</summary>
    public Task StopAsync() => EndAsync("-TERM");

    public async Task PublishAsync(string topic, string payload, int qos, params string[] more)
    {
        var client = StartPublishing([.. Where(topic), "-m", payload, "-q", $"{qos}", .. more]);
        await client.WaitForExitAsync().WaitAsync(Patience);
        Assert.Equal(0, client.ExitCode);
    }

    /// <summary>One message for each line, over one connection.</summary>
    public async Task PublishLinesAsync(string topic, IEnumerable<string> lines, int qos, params string[] more)
    {
        var client = StartPublishing([.. Where(topic), "-l", "-q", $"{qos}", .. more]);
        foreach (var line in lines)
            await client.StandardInput.WriteLineAsync(line);
        client.StandardInput.Close();
        await client.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(60));
        Assert.Equal(0, client.ExitCode);
    }

    /// <summary>Everything that comes on a topic from now on, as <c>topic payload</c>; returns once subscribed.</summary>
    public Task<Listener> ListenAsync(string filter, params string[] more) => Listener.StartAsync(_clients.Add, probe => PublishAsync(probe, "here", 1, ["-r", .. more]), Port, filter, more, ProbeLevel, Format);

    public static int FreePort() => LoopbackPort.Free();

    public static async Task UntilAsync(Func<bool> holds, string what)
    {
        var since = Stopwatch.GetTimestamp();
        while (!holds())
        {
            if (Stopwatch.GetElapsedTime(since) > Patience)
                Assert.Fail($"{what} after {Patience.TotalSeconds} s");
            await Task.Delay(20);
        }
    }

    public static bool Answers(int port)
    {
        try
        {
            using var client = new TcpClient();
            client.Connect(IPAddress.Loopback, port);
            return true;
        }
        catch (SocketException)
        {
            return false;
        }
    }

    public static Process Start(string program, params string[] arguments)
    {
        var start = new ProcessStartInfo(Installed.Program(program) ?? program, arguments) { RedirectStandardInput = true, RedirectStandardOutput = true };
        return Process.Start(start) ?? throw new InvalidOperationException($"{program} did not start");
    }

    public async ValueTask DisposeAsync()
    {
        foreach (var client in _clients)
        {
            if (!client.HasExited)
                client.Kill();
            client.Dispose();
        }

        await EndAsync("-KILL");
        Directory.Delete(Folder, recursive: true);
    }

    internal Process StartPublishing(params string[] arguments)
    {
        var client = Start("mosquitto_pub", arguments);
        _clients.Add(client);
        return client;
    }

    internal string[] Where(string topic) => ["-h", "127.0.0.1", "-p", $"{Port}", "-t", topic];

    private async Task EndAsync(string signal)
    {
        if (_process is null)
            return;
        if (!_process.HasExited)
        {
            using var kill = Start("kill", signal, $"{_process.Id}");
            await kill.WaitForExitAsync();
        }

        await _process.WaitForExitAsync().WaitAsync(Patience);
        _process.Dispose();
        _process = null;
    }
}

/// <summary>A running mosquitto_sub.</summary>
public sealed class Listener
{
    private readonly List<string> _lines = [];

    public IReadOnlyList<string> Lines
    {
        get
        {
            lock (_lines)
                return [.. _lines];
        }
    }

    /// <summary>Waits for a line, bounded.</summary>
    public Task HearsAsync(string line) => RealBroker.UntilAsync(() => Lines.Contains(line), $"not heard: {line}; heard: {string.Join(" | ", Lines)}");

    internal static async Task<Listener> StartAsync(Action<Process> own, Func<string, Task> retain, int port, string filter, string[] more, string level = "probe", string format = "%t %p")
    {
        var listener = new Listener();

        // The retained probe comes when the subscription stands: its talk of it (-d) sits in a buffer.
        var probe = $"{level}/{Guid.NewGuid()}";
        await retain(probe);
        var client = RealBroker.Start("mosquitto_sub", ["-h", "127.0.0.1", "-p", $"{port}", "-t", filter, "-t", probe, "-q", "1", "-F", format, .. more]);
        own(client);
        var subscribed = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        client.OutputDataReceived += (_, line) =>
        {
            if (line.Data is null)
                return;
            if (line.Data.StartsWith(probe, StringComparison.Ordinal))
            {
                subscribed.TrySetResult();
                return;
            }

            lock (listener._lines)
                listener._lines.Add(line.Data);
        };
        client.BeginOutputReadLine();
        await subscribed.Task.WaitAsync(TimeSpan.FromSeconds(20));
        return listener;
    }
}
