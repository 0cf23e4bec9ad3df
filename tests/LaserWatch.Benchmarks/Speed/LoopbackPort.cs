using System.Net;
using System.Net.Sockets;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>Ports for servers on loopback that are started in a moment.</summary>
/// <remarks>
/// From below the range out of which systems give clients their own ports: one of those may be taken between the question and the
/// server's start. No port is named twice in a process, and each process begins somewhere else.
/// </remarks>
public static class LoopbackPort
{
    private const int First = 20_000;
    private const int Count = 12_000;

    private static int _next = Random.Shared.Next(Count);

    /// <exception cref="InvalidOperationException">None of them is free.</exception>
    public static int Free()
    {
        for (var tried = 0; tried < Count; tried++)
        {
            var port = First + (int)((uint)Interlocked.Increment(ref _next) % Count);
            if (IsFree(port))
                return port;
        }

        throw new InvalidOperationException($"No port from {First} to {First + Count - 1} is free on loopback.");
    }

    private static bool IsFree(int port)
    {
        using var listener = new TcpListener(IPAddress.Loopback, port);
        try
        {
            listener.Start();
            return true;
        }
        catch (SocketException)
        {
            return false;
        }
    }
}
