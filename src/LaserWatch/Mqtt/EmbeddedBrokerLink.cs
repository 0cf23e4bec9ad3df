using System.Buffers;
using System.Collections.Concurrent;
using System.Net;
using System.Net.Sockets;
using System.Threading.Channels;
using LaserWatch.Configuration;
using LaserWatch.Payloads;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;
using MQTTnet;
using MQTTnet.Packets;
using MQTTnet.Protocol;
using MQTTnet.Server;

namespace LaserWatch.Mqtt;

/// <summary>A broker inside the agent; messages go to the inbox without a client in between.</summary>
/// <remarks>
/// A QoS 1 or 2 message is acknowledged to its sensor when <see cref="RawMessage.Acknowledge"/> is called. Sessions do not
/// survive a restart of the agent: subscribers subscribe again, and sensors send again what was not acknowledged. Retained
/// messages do, in a file.
/// </remarks>
public sealed class EmbeddedBrokerLink : IBrokerLink
{
    private const string OurClientId = "_agent";

    private const int SmallestPacketLimit = 2 * 1024 * 1024;
    private const int PacketBeyondPayload = 128 * 1024;

    /// <summary>Messages kept for one slow subscriber before its oldest are dropped; the library's own 250 is soon full.</summary>
    private const int MostPendingPerClient = 10_000;

    private static readonly TimeSpan SaveEvery = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan GoodBye = TimeSpan.FromSeconds(1);

    private readonly ConfiguredEmbeddedBroker _options;
    private readonly TimeProvider _time;
    private readonly ILogger<EmbeddedBrokerLink> _logger;
    private readonly Topics _topics;
    private readonly DropCount _drops;
    private readonly IPAddress _address;
    private readonly ConcurrentDictionary<EndPoint, SensorConnection> _byEndPoint = new();
    private readonly ConcurrentDictionary<CancellationToken, SensorConnection> _byToken = new();
    private readonly ConcurrentDictionary<string, byte> _announced = new(StringComparer.Ordinal);
    private readonly ClientAccounts _accounts;
    private readonly EmbeddedDoor _door;
    private readonly RetainedMessages _retained;
    private readonly int _mostPacketBytes;

    private MqttServer? _server;
    private ChannelWriter<RawMessage>? _inbox;
    private InboxGate? _gate;
    private long _connections;

    /// <param name="topicRoot">First levels of all of LaserWatch's own topics.</param>
    /// <param name="retainedFile">Where retained messages outlive a restart; null: nowhere.</param>
    /// <param name="rules">The topics of the machines' sensors, which belong to the rights of named clients.</param>
    /// <param name="mostPayloadBytes">The largest payload that is looked at; packets far beyond it end their connection.</param>
    /// <exception cref="ArgumentException">It would be open to the network without credentials or in clear, or the address is none.</exception>
    public EmbeddedBrokerLink(
        ConfiguredEmbeddedBroker options, string topicRoot, string? retainedFile, TimeProvider time, ILogger<EmbeddedBrokerLink> logger,
        IReadOnlyList<TopicRule>? rules = null, int mostPayloadBytes = 0)
    {
        if (!IPAddress.TryParse(options.Address, out var address))
            throw new ArgumentException($"embeddedBroker.address: '{options.Address}' is not an IP address; write for example 127.0.0.1, or 0.0.0.0 for all networks.", nameof(options));
        if (options.Exposure(address) is { } exposed)
            throw new ArgumentException($"embeddedBroker.{exposed.Member}: {exposed.What}; {exposed.Mend}.", nameof(options));

        _options = options;
        _time = time;
        _logger = logger;
        _address = address;
        _topics = new(topicRoot);
        _drops = new(time, logger);
        _accounts = new(options, topicRoot, rules ?? []);
        _door = new(_accounts, _topics, OurClientId, time, logger);
        _retained = new(retainedFile, _topics, _door, logger);
        _mostPacketBytes = Math.Max(SmallestPacketLimit, mostPayloadBytes + PacketBeyondPayload);
        Port = options.Port;
    }

    /// <summary>Where it listens; where the options leave the choice open, known once it is connected.</summary>
    public int Port { get; private set; }

    public bool IsConnected => Volatile.Read(ref _server) is { IsStarted: true };

    public long Connections => Volatile.Read(ref _connections);

    public long Dropped => _drops.Dropped;

    /// <summary>Messages and subscriptions that a client had no right to.</summary>
    public long Refused => _door.Refused;

    /// <summary>Whose session a client id is now; null where it is free.</summary>
    internal ClientRights? RightsOfSession(string clientId) => _door.RightsOf(clientId);

    public void Announce(string machine) => _announced.TryAdd(machine, 0);

    public async Task RunAsync(Channel<RawMessage> inbox, CancellationToken stop)
    {
        _inbox = inbox.Writer;
        _gate = new(inbox.Reader, _time);
        _accounts.RequirePasswords();
        using var listener = new SensorListener(
            _address, Port, _options.Tls is null ? null : new ServerCertificate(_options.Tls, _time, _logger), _mostPacketBytes, _time, _logger);
        using var server = Build(listener);
        try
        {
            await server.StartAsync();
        }
        catch (Exception e) when (e is SocketException or IOException)
        {
            throw new IOException(
                $"The embedded broker cannot listen on {_options.Address}:{Port}: {e.GetBaseException().Message}. "
                + "Does another broker run there? Set broker.host to use it, or another embeddedBroker.port.", e);
        }

        Port = listener.Port;
        await InjectAsync(server, _topics.AgentStatus, ConnectOptions.Online, retain: true, stop);
        Volatile.Write(ref _server, server);
        Interlocked.Increment(ref _connections);
        _logger.EmbeddedBrokerListens(_options.Address, Port);
        if (_options.Tls is null && !IPAddress.IsLoopback(_address))
            _logger.PasswordsInClear(_options.Address);
        try
        {
            using var timer = new PeriodicTimer(SaveEvery, _time);
            while (await timer.WaitForNextTickAsync(stop))
                await _retained.SaveAsync(server, stop);
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
        }
        finally
        {
            await StopAsync(server);
            Volatile.Write(ref _server, null);
        }
    }

    public async Task PublishAsync(string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop)
    {
        if (Volatile.Read(ref _server) is not { IsStarted: true } server)
            throw new IOException("The embedded broker is not running.");
        await InjectAsync(server, topic, payload, retain, stop);

        // An alarm that was handed over must stand after a crash; a status is said again soon anyway.
        if (retain && _topics.IsAlarm(topic))
            await _retained.SaveAsync(server, stop);
    }

    public ValueTask DisposeAsync()
    {
        _retained.Dispose();
        return ValueTask.CompletedTask;
    }

    private MqttServer Build(SensorListener listener)
    {
        var options = new MqttServerOptionsBuilder()
            .WithDefaultEndpoint()
            .WithPersistentSessions()
            .WithMaxPendingMessagesPerClient(MostPendingPerClient)
            .WithDefaultCommunicationTimeout(SensorListener.Patience)
            .Build();
        var server = new MqttServerFactory().CreateMqttServer(options, [listener]);
        server.LoadingRetainedMessageAsync += _retained.LoadAsync;
        server.RetainedMessageChangedAsync += _ => _retained.NoteChange();
        server.ValidatingConnectionAsync += Validate;
        server.ClientDisconnectedAsync += args =>
        {
            if (_byEndPoint.TryRemove(args.RemoteEndPoint, out var connection))
            {
                _byToken.TryRemove(connection.Token, out _);
                connection.Close();
            }

            return Task.CompletedTask;
        };
        server.InterceptingInboundPacketAsync += args =>
        {
            if (_byEndPoint.TryGetValue(args.RemoteEndPoint, out var connection))
            {
                connection.Current = args.Packet as MqttPublishPacket;
                if (connection.Token != args.CancellationToken)
                {
                    connection.Token = args.CancellationToken;
                    _byToken[args.CancellationToken] = connection;
                }
            }

            return Task.CompletedTask;
        };
        server.InterceptingOutboundPacketAsync += args =>
        {
            if (_byEndPoint.TryGetValue(args.RemoteEndPoint, out var connection) && connection.HoldsBack(args.Packet))
                args.ProcessPacket = false;
            return Task.CompletedTask;
        };
        server.InterceptingPublishAsync += TakeAsync;
        server.InterceptingSubscriptionAsync += args =>
        {
            if (_door.WhyNotSubscribe(args.ClientId, args.TopicFilter.Topic) is not { } why)
                return Task.CompletedTask;
            args.ProcessSubscription = false;
            args.Response.ReasonCode = why;
            return Task.CompletedTask;
        };
        server.ClientUnsubscribedTopicAsync += args =>
        {
            _door.Unsubscribed(args.ClientId, args.TopicFilter);
            return Task.CompletedTask;
        };
        server.SessionDeletedAsync += args =>
        {
            _door.Forget(args.Id);
            return Task.CompletedTask;
        };
        return server;
    }

    private Task Validate(ValidatingConnectionEventArgs args)
    {
        if (_door.Admit(args) is not { } rights)
            return Task.CompletedTask;
        var id = string.IsNullOrEmpty(args.ClientId) ? args.AssignedClientIdentifier : args.ClientId;
        var connection = new SensorConnection((NamingChannel)args.ChannelAdapter, args.RemoteEndPoint, id, rights);
        if (_byEndPoint.TryRemove(args.RemoteEndPoint, out var before))
            before.Close();
        _byEndPoint[args.RemoteEndPoint] = connection;
        connection.Start(e => _logger.AcknowledgementLost(e.Message));
        return Task.CompletedTask;
    }

    /// <summary>Runs in the receiving loop of one client; waiting here holds up that client alone.</summary>
    private async Task TakeAsync(InterceptingPublishEventArgs args)
    {
        var message = args.ApplicationMessage;
        if (args.ClientId == OurClientId)
            return;
        await _gate!.PassAsync(args.CancellationToken);

        // A will comes without a connection, and is held to the rights of whose session it is.
        _byToken.TryGetValue(args.CancellationToken, out var connection);
        var rights = connection?.Rights ?? _door.RightsOf(args.ClientId);
        if (!_door.MayPublish(rights, args.ClientId, message.Topic))
        {
            args.ProcessPublish = false;
            args.Response.ReasonCode = MqttPubAckReasonCode.NotAuthorized;
            return;
        }

        if (message.Retain && !_retained.MayRetain(message))
            message.Retain = false;

        // A sensor's will comes without a connection: nobody waits for its acknowledgement.
        MqttPublishPacket? packet = null;
        if (connection is not null)
        {
            packet = connection.Current;
            connection.Current = null;
        }

        Action? acknowledge = null;
        if (packet is { QualityOfServiceLevel: > MqttQualityOfServiceLevel.AtMostOnce })
        {
            acknowledge = connection!.Hold(packet);
            if (acknowledge is null)
                return;
        }

        var raw = new RawMessage(
            message.Topic, RawMessage.Whole(message.Payload), Instant.From(_time.GetUtcNow()), SessionOf(args.ClientId, rights!),
            acknowledge is null ? (ushort)0 : packet!.PacketIdentifier, packet?.Dup ?? false, Retained: false, acknowledge, rights);
        if (_inbox!.TryWrite(raw))
        {
            _drops.Pass();
            return;
        }

        if (acknowledge is null)
        {
            _drops.Drop(_inbox);
            return;
        }

        try
        {
            await _inbox.WriteAsync(raw, args.CancellationToken);
        }
        catch (Exception e) when (e is OperationCanceledException or ChannelClosedException)
        {
            // Not acknowledged, so the sensor sends it again.
            _logger.AcknowledgementLost(e.Message);
        }
    }

    private static Task InjectAsync(MqttServer server, string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop) =>
        server.InjectApplicationMessage(
            new InjectedMqttApplicationMessage(new MqttApplicationMessage
            {
                Topic = topic,
                Payload = new ReadOnlySequence<byte>(payload),
                QualityOfServiceLevel = MqttQualityOfServiceLevel.AtLeastOnce,
                Retain = retain,
            })
            { SenderClientId = OurClientId },
            stop);

    private async Task StopAsync(MqttServer server)
    {
        using var patience = new CancellationTokenSource(GoodBye, _time);
        try
        {
            foreach (var machine in _announced.Keys)
                await InjectAsync(server, _topics.Status(machine), ConnectOptions.Offline, retain: true, patience.Token);
            await InjectAsync(server, _topics.AgentStatus, ConnectOptions.Offline, retain: true, patience.Token);
            await _retained.SaveAsync(server, patience.Token);
            await server.StopAsync(new MqttServerStopOptions()).WaitAsync(patience.Token);
        }
        catch (OperationCanceledException)
        {
            _logger.GoodByeFailed("the embedded broker did not stop in time");
        }

        foreach (var connection in _byEndPoint.Values)
        {
            connection.Close();
            await connection.Acknowledging;
        }
    }

    internal static string NewClientId() => $"sensor-{Guid.NewGuid():N}";

    /// <summary>Another user's packet numbers are others, though the client id may once have been the same.</summary>
    internal static string SessionOf(string clientId, ClientRights rights) =>
        rights.Name is { } name ? $"embedded/{name}/{clientId}" : "embedded/" + clientId;
}
