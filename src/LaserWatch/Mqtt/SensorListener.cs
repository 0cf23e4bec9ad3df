using System.Collections.Concurrent;
using System.Net;
using System.Net.Security;
using System.Net.Sockets;
using System.Security.Authentication;
using System.Security.Cryptography.X509Certificates;
using Microsoft.Extensions.Logging;
using MQTTnet.Adapter;
using MQTTnet.Diagnostics.Logger;
using MQTTnet.Formatter;
using MQTTnet.Implementations;
using MQTTnet.Server;

namespace LaserWatch.Mqtt;

/// <summary>Where sensors connect: TLS, and bounds on what somebody who has not logged in can take up.</summary>
/// <remarks>
/// In place of the library's own listener, which waits without end for a handshake and takes any number of connections and
/// packets of any size.
/// </remarks>
/// <param name="mostPacketBytes">Of those who have said who they are; before that no packet needs more than <see cref="MostUnknownBytes"/>.</param>
internal sealed class SensorListener(
    IPAddress address, int port, ServerCertificate? certificate, int mostPacketBytes, InboxGate gate, TimeProvider time, ILogger logger)
    : IMqttServerAdapter
{
    /// <summary>Connections in all; a shop has some tens.</summary>
    public const int MostConnections = 1000;

    /// <summary>Connections of one address that have not said who they are.</summary>
    public const int MostWaitingOfAddress = 32;

    /// <summary>A first packet with client id, user, password and a will, none of them small.</summary>
    public const int MostUnknownBytes = 256 * 1024;

    /// <summary>Who has shown nothing in so long is sent away.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    /// <summary>Of each connection; a sensor that sends many at once sends some hundred of them in so much.</summary>
    private const int ReadAhead = 4 * 1024;

    private const int Backlog = 100;
    private const int AddressesSaid = 256;

    private readonly CancellationTokenSource _stop = new();
    private readonly ConcurrentDictionary<Socket, byte> _open = new();
    private readonly ConcurrentDictionary<IPAddress, int> _waiting = new();
    private readonly ConcurrentDictionary<string, byte> _said = new(StringComparer.Ordinal);
    private Socket? _listening;
    private Task _accepting = Task.CompletedTask;

    public Func<IMqttChannelAdapter, Task> ClientHandler { get; set; } = _ => Task.CompletedTask;

    /// <summary>Where it listens; where the choice was left open, known once it is started.</summary>
    public int Port { get; private set; } = port;

    public Task StartAsync(MqttServerOptions options, IMqttNetLogger libraryLogger)
    {
        _listening = new Socket(address.AddressFamily, SocketType.Stream, ProtocolType.Tcp);

        // No ReuseAddress: the framework sees by itself that a restart need not wait for old connections to time out, and with
        // the option two agents would share the port and the sensors without a word.
        _listening.Bind(new IPEndPoint(address, Port));
        _listening.Listen(Backlog);
        Port = ((IPEndPoint)_listening.LocalEndPoint!).Port;
        _accepting = AcceptAsync(_listening, options, libraryLogger);
        return Task.CompletedTask;
    }

    /// <summary>No more come; those that are here the library says good-bye to.</summary>
    public async Task StopAsync()
    {
        await _stop.CancelAsync();
        _listening?.Dispose();
        await _accepting;
    }

    public void Dispose()
    {
        _listening?.Dispose();
        foreach (var socket in _open.Keys)
            socket.Dispose();
        _stop.Dispose();
    }

    private async Task AcceptAsync(Socket listening, MqttServerOptions options, IMqttNetLogger libraryLogger)
    {
        var failing = false;
        while (!_stop.IsCancellationRequested)
        {
            try
            {
                var socket = await listening.AcceptAsync(_stop.Token);
                failing = false;
                _ = ServeAsync(socket, options, libraryLogger);
            }
            catch (Exception e) when (e is OperationCanceledException or ObjectDisposedException)
            {
                return;
            }
            catch (SocketException e)
            {
                // Out of handles, mostly: those that are open go on, and others may come when some have left.
                if (!failing)
                    logger.ConnectionsNotTaken(e.Message);
                failing = true;
                await Task.Delay(TimeSpan.FromSeconds(1), time, _stop.Token).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    private async Task ServeAsync(Socket socket, MqttServerOptions options, IMqttNetLogger libraryLogger)
    {
        var place = IPAddress.None;
        var waits = false;
        try
        {
            if (socket.RemoteEndPoint is not IPEndPoint remote)
                return;
            place = remote.Address;
            if (!_open.TryAdd(socket, 0) || _open.Count > MostConnections)
            {
                Refuse(place, $"more than {MostConnections} connections are open");
                return;
            }

            waits = true;
            if (_waiting.AddOrUpdate(place, 1, static (_, n) => n + 1) > MostWaitingOfAddress)
            {
                Refuse(place, $"more than {MostWaitingOfAddress} of its connections have not said who they are");
                return;
            }

            // One bound for handshake and CONNECT together, however slowly they trickle in.
            using var patience = new CancellationTokenSource(Patience, time);
            await using var hangUp = patience.Token.Register(() =>
            {
                if (!waits)
                    return;
                Refuse(place, $"it did not say who it is within {Patience.TotalSeconds} s");
                socket.Dispose();
            });
            socket.NoDelay = true;
            socket.LingerState = options.DefaultEndpointOptions.LingerState;
            await using var stream = await OpenAsync(socket, patience.Token);
            var shown = (stream as SslStream)?.RemoteCertificate as X509Certificate2;
            using var tcp = new MqttTcpChannel(stream, socket.LocalEndPoint, remote, shown);
            using var buffered = new BufferedChannel(tcp, ReadAhead, gate);
            using var limited = new PacketLimit(buffered, MostUnknownBytes, most => Refuse(place, $"it sent a packet of more than {most >> 10} KiB"));
            using var adapter = new MqttChannelAdapter(
                limited, new MqttPacketFormatterAdapter(new MqttBufferWriter(options.WriterBufferSize, options.WriterBufferSizeMax)), libraryLogger)
            {
                AllowPacketFragmentation = false, // a packet is one write
            };
            await ClientHandler(new NamingChannel(adapter, buffered, () =>
            {
                limited.MostBytes = mostPacketBytes;
                if (waits)
                    Release(place);
                waits = false;
            }));
        }
        catch (Exception e) when (e is AuthenticationException or IOException or OperationCanceledException or SocketException or ObjectDisposedException)
        {
            // Of somebody who has not come in yet: from there on the library handles what breaks.
            if (!_stop.IsCancellationRequested && certificate is not null && waits && e is not OperationCanceledException)
                Refuse(place, $"no TLS with it: {e.GetBaseException().Message.ReplaceLineEndings(" ").TrimEnd('.')}");
        }
        catch (Exception e) // one connection's fault, whatever it is, must not end in silence, nor the others with it
        {
            logger.ConnectionFailed(e, place.ToString());
        }
        finally
        {
            if (waits)
                Release(place);
            _open.TryRemove(socket, out _);
            socket.Dispose();
        }
    }

    private async Task<Stream> OpenAsync(Socket socket, CancellationToken impatient)
    {
        var plain = new NetworkStream(socket, ownsSocket: true);
        if (certificate is null)
            return plain;
        var stream = new SslStream(plain, leaveInnerStreamOpen: false);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(_stop.Token, impatient);
        try
        {
            await stream.AuthenticateAsServerAsync(certificate.ForHandshake(), either.Token);
            return stream;
        }
        catch
        {
            await stream.DisposeAsync();
            throw;
        }
    }

    private void Release(IPAddress place)
    {
        var left = _waiting.AddOrUpdate(place, 0, static (_, n) => n - 1);
        if (left <= 0)
            _waiting.TryRemove(new KeyValuePair<IPAddress, int>(place, left));
    }

    private void Refuse(IPAddress place, string why)
    {
        if (_said.Count < AddressesSaid && _said.TryAdd($"{place} {why}", 0))
            logger.ConnectionRefused(place.ToString(), why);
    }
}
