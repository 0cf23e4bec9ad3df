using System.Net;
using System.Net.Sockets;

namespace LaserWatch.Mqtt;

/// <summary>A wire to a broker that a test can cut: to the broker it looks as when the process at this end dies.</summary>
public sealed class CutLine : IAsyncDisposable
{
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly CancellationTokenSource _stop = new();
    private readonly List<Socket> _ends = [];
    private readonly List<Task> _pumps = [];
    private readonly Task _accepting;
    private readonly int _to;

    public CutLine(int to)
    {
        _to = to;
        _listener.Start();
        _accepting = AcceptAsync();
    }

    public int Port => ((IPEndPoint)_listener.LocalEndpoint).Port;

    /// <summary>Cuts all connections, and lets no new ones through until <see cref="Mend"/>.</summary>
    public void Cut()
    {
        lock (_ends)
        {
            IsCut = true;
            foreach (var end in _ends)
            {
                end.LingerState = new LingerOption(true, 0);
                end.Close();
            }

            _ends.Clear();
        }
    }

    public void Mend()
    {
        lock (_ends)
            IsCut = false;
    }

    public bool IsCut { get; private set; }

    public async ValueTask DisposeAsync()
    {
        Cut();
        await _stop.CancelAsync();
        await _accepting;
        await Task.WhenAll(_pumps);
        _listener.Dispose();
        _stop.Dispose();
    }

    private async Task AcceptAsync()
    {
        try
        {
            while (true)
            {
                var near = await _listener.AcceptSocketAsync(_stop.Token);
                var far = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp);
                lock (_ends)
                {
                    if (IsCut)
                    {
                        near.Close();
                        far.Close();
                        continue;
                    }

                    far.Connect(IPAddress.Loopback, _to);
                    _ends.AddRange([near, far]);
                    _pumps.AddRange([PumpAsync(near, far), PumpAsync(far, near)]);
                }
            }
        }
        catch (OperationCanceledException)
        {
        }
    }

    private static async Task PumpAsync(Socket from, Socket to)
    {
        var buffer = new byte[65536];
        try
        {
            while (await from.ReceiveAsync(buffer) is var count and > 0)
                await to.SendAsync(buffer.AsMemory(0, count));
            to.Shutdown(SocketShutdown.Send);
        }
        catch (Exception e) when (e is SocketException or ObjectDisposedException)
        {
        }
    }
}
