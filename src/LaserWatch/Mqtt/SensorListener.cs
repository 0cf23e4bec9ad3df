using System.Collections.Concurrent;
using System.Net;
using System.Security.Authentication;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.AspNetCore.Server.Kestrel.Https;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using MQTTnet.Adapter;
using MQTTnet.AspNetCore;
using MQTTnet.Diagnostics.Logger;
using MQTTnet.Formatter;
using MQTTnet.Server;

namespace LaserWatch.Mqtt;

/// <summary>Where sensors connect: bounds on what somebody who has not logged in can take up, TLS, then the library's own reading of packets.</summary>
/// <param name="mostPacketBytes">Of those who have said who they are; before that no packet needs more than <see cref="MostUnknownBytes"/>.</param>
internal sealed class SensorListener(
    IPAddress address, int port, ServerCertificate? certificate, int mostPacketBytes, TimeProvider time, ILogger logger) : IMqttServerAdapter
{
    /// <summary>Connections in all; a shop has some tens.</summary>
    public const int MostConnections = 1000;

    /// <summary>Connections of one address that have not said who they are.</summary>
    public const int MostWaitingOfAddress = 32;

    /// <summary>A first packet with client id, user, password and a will, none of them small.</summary>
    public const int MostUnknownBytes = 256 * 1024;

    /// <summary>Who has shown nothing in so long is sent away. One bound for handshake and CONNECT together, however slowly they come.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    private const int AddressesSaid = 256;

    private static readonly TimeSpan TimeToStop = TimeSpan.FromMilliseconds(500);

    private readonly ConcurrentDictionary<IPAddress, int> _waiting = new();
    private readonly ConcurrentDictionary<string, byte> _said = new(StringComparer.Ordinal);
    private WebApplication? _web;
    private int _open;
    private volatile bool _stopping;

    public Func<IMqttChannelAdapter, Task> ClientHandler { get; set; } = _ => Task.CompletedTask;

    /// <summary>Where it listens; where the choice was left open, known once it is started.</summary>
    public int Port { get; private set; } = port;

    public async Task StartAsync(MqttServerOptions options, IMqttNetLogger libraryLogger)
    {
        _web = Kestrel.Build(TimeToStop, kestrel => kestrel.Listen(address, Port, listen =>
        {
            listen.Protocols = HttpProtocols.Http1; // one must be named; none is spoken here
            listen.Use(next => connection => GuardAsync(connection, next));
            if (certificate is not null)
                listen.UseHttps(new TlsHandshakeCallbackOptions { HandshakeTimeout = Patience, OnConnection = _ => new(certificate.ForHandshake()) });
            listen.Run(connection => ServeAsync(connection, options));
        }));
        await _web.StartAsync();
        var addresses = _web.Services.GetRequiredService<IServer>().Features.GetRequiredFeature<IServerAddressesFeature>();
        Port = new Uri(addresses.Addresses.Single()).Port;
    }

    /// <summary>No more come; those that are here the library says good-bye to.</summary>
    public async Task StopAsync()
    {
        _stopping = true;
        if (_web is not null)
            await _web.StopAsync();
    }

    public void Dispose() => ((IDisposable?)_web)?.Dispose();

    private async Task GuardAsync(ConnectionContext connection, ConnectionDelegate next)
    {
        var visitor = new Visitor((connection.RemoteEndPoint as IPEndPoint)?.Address ?? IPAddress.None);
        connection.Features.Set(visitor);
        try
        {
            if (Interlocked.Increment(ref _open) > MostConnections)
            {
                Refuse(visitor.Address, $"more than {MostConnections} connections are open");
                return;
            }

            visitor.IsWaiting = true;
            if (_waiting.AddOrUpdate(visitor.Address, 1, static (_, n) => n + 1) > MostWaitingOfAddress)
            {
                Refuse(visitor.Address, $"more than {MostWaitingOfAddress} of its connections have not said who they are");
                return;
            }

            using var patience = new CancellationTokenSource(Patience, time);
            await using var hangUp = patience.Token.Register(() =>
            {
                if (!visitor.IsWaiting)
                    return;
                Refuse(visitor.Address, $"it did not say who it is within {Patience.TotalSeconds} s");
                connection.Abort();
            });
            await next(connection);
            if (visitor is { IsWaiting: true, IsServed: false } && !_stopping && !patience.IsCancellationRequested)
                Refuse(visitor.Address, "no TLS with it: the handshake failed; the sensor must speak TLS 1.2 or newer, trust our certificate, and show its own where clientCaFile is set");
        }
        finally
        {
            Release(visitor);
            Interlocked.Decrement(ref _open);
        }
    }

    private async Task ServeAsync(ConnectionContext connection, MqttServerOptions options)
    {
        var visitor = connection.Features.GetRequiredFeature<Visitor>();
        visitor.IsServed = true;
        var guard = new PacketGuard(connection.Transport, MostUnknownBytes, most => Refuse(visitor.Address, $"it sent a packet of more than {most >> 10} KiB"));
        connection.Transport = guard;
        using var adapter = new MqttConnectionContext(
            new MqttPacketFormatterAdapter(new MqttBufferWriter(options.WriterBufferSize, options.WriterBufferSizeMax)), connection);
        try
        {
            await ClientHandler(new NamingChannel(adapter, () =>
            {
                guard.MostBytes = mostPacketBytes;
                Release(visitor);
            }));
        }
        catch (Exception e) when (e is IOException or OperationCanceledException or AuthenticationException)
        {
            // It went, or the agent stops.
        }
        catch (Exception e) // one connection's fault, whatever it is, must not end in silence
        {
            logger.ConnectionFailed(e, visitor.Address.ToString());
        }
        finally
        {
            // Who does not take our last words must not hold his place for ever.
            connection.Transport.Output.Complete();
            var leaving = new CancellationTokenSource(Patience, time);
            leaving.Token.Register(connection.Abort);
        }
    }

    private void Release(Visitor visitor)
    {
        if (!visitor.IsWaiting)
            return;
        visitor.IsWaiting = false;
        var left = _waiting.AddOrUpdate(visitor.Address, 0, static (_, n) => n - 1);
        if (left <= 0)
            _waiting.TryRemove(new KeyValuePair<IPAddress, int>(visitor.Address, left));
    }

    private void Refuse(IPAddress place, string why)
    {
        if (_said.Count < AddressesSaid && _said.TryAdd($"{place} {why}", 0))
            logger.ConnectionRefused(place.ToString(), why);
    }

    /// <summary>Somebody at the door.</summary>
    private sealed class Visitor(IPAddress address)
    {
        public IPAddress Address => address;

        /// <summary>Has not said who it is.</summary>
        public volatile bool IsWaiting;

        /// <summary>Has come as far as MQTT.</summary>
        public volatile bool IsServed;
    }
}
