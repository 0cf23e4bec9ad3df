using System.Threading.Channels;
using LaserWatch.Configuration;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;
using MQTTnet;

namespace LaserWatch.Mqtt;

/// <summary>A client of an outside broker, with a session that outlives the agent.</summary>
/// <remarks>
/// A message is acknowledged when its <see cref="RawMessage.Acknowledge"/> is called, in the order of receipt; until then the
/// broker holds it and sends it again after a break. While the inbox is full QoS 0 is dropped and counted, and QoS 1 waits:
/// the broker sends no more than the receive maximum ahead.
/// </remarks>
public sealed class MqttClientLink : IBrokerLink
{
    private const int ShortOnesToTell = 3;

    private static readonly TimeSpan GoodBye = TimeSpan.FromSeconds(1);

    private readonly ConfiguredBroker _options;
    private readonly IReadOnlyList<string> _filters;
    private readonly TimeProvider _time;
    private readonly ILogger<MqttClientLink> _logger;
    private readonly ReconnectPolicy _policy;
    private readonly ProtocolChoice _protocol = new();
    private readonly Topics _topics;
    private readonly PresenceLinks _presence;
    private readonly DropCount _drops;
    private readonly string _willTopic;
    private readonly string _where;
    private readonly string _session;

    private BrokerConnection? _current;
    private bool _subscribed;
    private long _connections;

    /// <param name="filters">What to subscribe to, as MQTT topic filters.</param>
    /// <param name="onlyMachine">The one machine of the shop, whose will the main connection can carry; null where there are more, or none is known.</param>
    /// <param name="seed">For the jitter of the waits; a different one for each agent of a broker.</param>
    public MqttClientLink(
        ConfiguredBroker options, IReadOnlyList<string> filters, string? onlyMachine, TimeProvider time, int seed,
        ILogger<MqttClientLink> logger)
    {
        _options = options;
        _filters = filters;
        _time = time;
        _logger = logger;
        _policy = new(new Random(seed));
        _topics = new(options.TopicRoot);
        _willTopic = onlyMachine is null ? _topics.AgentStatus : _topics.Status(onlyMachine);
        _presence = new(options, _topics, onlyMachine, time, new Random(seed + 1), logger);
        _drops = new(time, logger);
        _where = $"{options.Host}:{options.Port}";
        _session = $"{_where}/{options.ClientId}";
    }

    public bool IsConnected => Volatile.Read(ref _current)?.IsConnected ?? false;

    public long Connections => Volatile.Read(ref _connections) + _presence.Connections;

    public long Dropped => _drops.Dropped;

    public void Announce(string machine) => _presence.Add(machine);

    public async Task RunAsync(Channel<RawMessage> inbox, CancellationToken stop)
    {
        using var feed = new InboxFeed(inbox.Writer);
        var gate = new InboxGate(inbox.Reader, _time);
        using var inner = CancellationTokenSource.CreateLinkedTokenSource(stop);
        var pumping = feed.PumpAsync(inner.Token);
        var presence = Task.CompletedTask;
        var failures = 0;
        var shortOnes = 0;
        var said = "";
        try
        {
            while (!stop.IsCancellationRequested)
            {
                await using var connection = new BrokerConnection(_logger, gate);
                try
                {
                    await OpenAsync(connection, feed, stop);
                }
                catch (Exception e) when (!stop.IsCancellationRequested)
                {
                    failures++;
                    Learn(e);
                    var fault = ConnectFault.Of(e, _options);
                    if (fault.What != said)
                        _logger.BrokerUnreachable(_where, fault.What, fault.Mend);
                    said = fault.What;
                    await Task.Delay(_policy.Wait(failures), _time, stop);
                    continue;
                }

                said = "";
                var since = _time.GetTimestamp();
                if (presence.IsCompleted)
                    presence = _presence.RunAsync(inner.Token);
                Exception? why;
                try
                {
                    why = await connection.Ended.WaitAsync(stop);
                }
                catch (OperationCanceledException)
                {
                    await SayGoodByeAsync(connection);
                    break;
                }

                Volatile.Write(ref _current, null);
                _protocol.Ended();
                var lasted = _time.GetElapsedTime(since);
                shortOnes = lasted >= ReconnectPolicy.Lasting ? 0 : shortOnes + 1;
                SayLost(connection, why, shortOnes);
                failures = ReconnectPolicy.AfterConnection(failures, lasted);
                await Task.Delay(_policy.Wait(failures), _time, stop);
            }
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
        }
        finally
        {
            Volatile.Write(ref _current, null);
            await inner.CancelAsync();
            await presence.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            await pumping.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    public Task PublishAsync(string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop) =>
        Volatile.Read(ref _current) is { } connection
            ? connection.PublishAsync(topic, payload, retain, stop)
            : Task.FromException(new IOException($"No connection to the broker {_where}."));

    public ValueTask DisposeAsync() => ValueTask.CompletedTask;

    private async Task OpenAsync(BrokerConnection connection, InboxFeed feed, CancellationToken stop)
    {
        var five = _protocol.Five;
        var options = ConnectOptions.Build(_options, _options.ClientId, _willTopic, persistent: true, five);
        connection.Receive((message, packetId, acknowledge) => Take(connection, feed, message, packetId, acknowledge));
        var kept = await connection.OpenAsync(options, stop);

        // Once in each life of the agent even where the session was kept: the configuration may have changed meanwhile.
        if (!kept || !_subscribed)
        {
            foreach (var (filter, why) in await connection.SubscribeAsync(_filters, five, stop))
                _logger.SubscriptionRefused(filter, why);
        }

        if (_willTopic == _topics.AgentStatus)
            await SayOnlineAsync(connection, stop);
        _logger.BrokerConnected(_where, _options.ClientId, five ? "5" : "3.1.1", kept);
        if (_subscribed && !kept)
            _logger.SessionLost(_where);
        _subscribed = true;
        Volatile.Write(ref _current, connection);
        Interlocked.Increment(ref _connections);
    }

    /// <summary>The library calls it for one message at a time; must not wait, or what is read meanwhile piles up without bound.</summary>
    private void Take(BrokerConnection connection, InboxFeed feed, MqttApplicationMessage message, ushort packetId, Action? acknowledge)
    {
        if (_topics.IsOurs(message.Topic))
        {
            acknowledge?.Invoke();
            return;
        }

        var raw = new RawMessage(
            message.Topic, RawMessage.Whole(message.Payload), Instant.From(_time.GetUtcNow()), _session, packetId, message.Dup, message.Retain, acknowledge);
        switch (feed.Offer(raw))
        {
            case Offered.Taken:
                _drops.Pass();
                break;
            case Offered.Dropped:
                _drops.Drop(feed.Inbox);
                break;
            case Offered.Refused:
                // Only breaking off makes the broker send it again.
                connection.BreakOff();
                break;
        }
    }

    /// <summary>Some brokers say that another client came with our name; others just hang up, again and again.</summary>
    private void SayLost(BrokerConnection connection, Exception? why, int shortOnes)
    {
        if (shortOnes > ShortOnesToTell)
            return;
        if (connection.SessionTakenOver)
            _logger.SessionTakenOver(_where, _options.ClientId);
        else if (shortOnes == ShortOnesToTell)
            _logger.BrokerHangsUpAtOnce(_where, shortOnes, _options.ClientId);
        else
            _logger.BrokerLost(_where, why is null ? "the broker closed it" : why.GetBaseException().Message);
    }

    private void Learn(Exception fault)
    {
        if (fault is BrokerRefusedException { WrongVersion: true })
        {
            _logger.FallingBackTo311(_where);
            _protocol.Refused();
        }
        else if (ConnectFault.IsHangUp(fault))
        {
            _protocol.HungUp();
        }
    }

    /// <summary>Of the agent as a whole; a machine's own status says more, and is published elsewhere.</summary>
    private async Task SayOnlineAsync(BrokerConnection connection, CancellationToken stop)
    {
        try
        {
            await connection.PublishAsync(_willTopic, ConnectOptions.Online, retain: true, stop);
        }
        catch (IOException e)
        {
            // A broker that keeps this topic from us may still give us the sensors.
            _logger.StatusNotPublished("the agent", e.Message);
        }
    }

    private async Task SayGoodByeAsync(BrokerConnection connection)
    {
        using var patience = new CancellationTokenSource(GoodBye, _time);
        try
        {
            await connection.PublishAsync(_willTopic, ConnectOptions.Offline, retain: true, patience.Token);
            foreach (var machine in _presence.Beyond)
                await connection.PublishAsync(_topics.Status(machine), ConnectOptions.Offline, retain: true, patience.Token);
        }
        catch (Exception e) when (e is IOException or OperationCanceledException)
        {
            _logger.GoodByeFailed(e.Message);
        }

        await connection.CloseAsync(patience.Token);
    }
}
