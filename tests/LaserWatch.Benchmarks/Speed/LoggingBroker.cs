using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Sockets;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>A mosquitto of its own that tells of every subscription, so that a start is timed from the broker's side.</summary>
internal sealed class LoggingBroker : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-bench-").FullName;
    private readonly Process _process;
    private readonly Lock _waiting = new();
    private TaskCompletionSource<long>? _subscribed;
    private string _filter = "";

    private LoggingBroker(string program, int port)
    {
        Port = port;
        var config = Path.Combine(_folder, "mosquitto.conf");
        File.WriteAllLines(config, ["user root", $"listener {port} 127.0.0.1", "allow_anonymous true", "persistence false", "log_dest stderr", "log_type subscribe", "log_type error"]);
        _process = Process.Start(new ProcessStartInfo(program, ["-c", config]) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        _process.ErrorDataReceived += (_, line) => Hear(line.Data); // standard output would come in blocks
        _process.BeginOutputReadLine();
        _process.BeginErrorReadLine();
    }

    public int Port { get; }

    public static async Task<LoggingBroker> StartAsync(CancellationToken stop)
    {
        var program = Installed.Program("mosquitto") ?? throw new MissingPartException("mosquitto is not installed");
        var broker = new LoggingBroker(program, LoopbackPort.Free());
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
        patience.CancelAfter(TimeSpan.FromSeconds(20));
        while (!await AnswersAsync(broker.Port, patience.Token))
            await Task.Delay(20, patience.Token);
        return broker;
    }

    /// <summary>The time stamp at which the next client is subscribed to the filter.</summary>
    public Task<long> NextSubscriptionAsync(string filter)
    {
        lock (_waiting)
        {
            _filter = " " + filter;
            _subscribed = new(TaskCreationOptions.RunContinuationsAsynchronously);
            return _subscribed.Task;
        }
    }

    public static async Task<bool> AnswersAsync(int port, CancellationToken stop)
    {
        using var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp);
        try
        {
            await socket.ConnectAsync(IPAddress.Loopback, port, stop);
            return true;
        }
        catch (SocketException)
        {
            return false;
        }
    }

    public async ValueTask DisposeAsync()
    {
        _process.Kill();
        await _process.WaitForExitAsync();
        _process.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    // As in "1795866697: laserwatch 1 laserwatch/+/+".
    private void Hear(string? line)
    {
        lock (_waiting)
        {
            if (line?.EndsWith(_filter, StringComparison.Ordinal) == true)
                _subscribed?.TrySetResult(Stopwatch.GetTimestamp());
        }
    }
}
