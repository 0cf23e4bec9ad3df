using System.Diagnostics;
using System.Net;
using System.Net.Sockets;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>A mosquitto of this run alone, with bounds that keep all that waits, so that what is lost is lost by who listens; it sends at once, as config/mosquitto.conf has it.</summary>
internal sealed class Mosquitto : IAsyncDisposable
{
    private readonly Process _process;
    private readonly DirectoryInfo _folder;

    private Mosquitto(Process process, DirectoryInfo folder, int port)
    {
        _process = process;
        _folder = folder;
        Port = port;
    }

    public int Port { get; }

    /// <exception cref="MissingPartException">There is no mosquitto.</exception>
    public static async Task<Mosquitto> StartAsync(CancellationToken stop)
    {
        var program = Installed.Program("mosquitto") ?? throw new MissingPartException("mosquitto is not installed");
        var folder = Directory.CreateTempSubdirectory("laserwatch-speed-");
        var port = LoopbackPort.Free();
        var conf = Path.Combine(folder.FullName, "mosquitto.conf");
        await File.WriteAllTextAsync(
            conf,
            $"""
            listener {port} 127.0.0.1
            allow_anonymous true
            max_queued_messages 0
            max_inflight_messages 1000
            set_tcp_nodelay true
            log_type error
            """,
            stop);
        var process = Process.Start(new ProcessStartInfo(program, ["-c", conf])) ?? throw new MissingPartException("mosquitto does not start");
        var broker = new Mosquitto(process, folder, port);
        await AwaitPortAsync(port, process, stop);
        return broker;
    }

    public static async Task AwaitPortAsync(int port, Process of, CancellationToken stop)
    {
        for (var began = Stopwatch.GetTimestamp(); ;)
        {
            try
            {
                using var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp);
                await socket.ConnectAsync(IPAddress.Loopback, port, stop);
                return;
            }
            catch (SocketException) when (!of.HasExited && Stopwatch.GetElapsedTime(began) < TimeSpan.FromSeconds(20))
            {
                await Task.Delay(20, stop);
            }
        }
    }

    public async ValueTask DisposeAsync()
    {
        _process.Kill();
        await _process.WaitForExitAsync();
        _process.Dispose();
        _folder.Delete(recursive: true);
    }
}
