using System.Buffers;
using System.Security.Authentication;
using System.Text;
using LaserWatch.Configuration;
using Microsoft.Extensions.Logging;
using MQTTnet;
using MQTTnet.Packets;
using MQTTnet.Protocol;

namespace LaserWatch.Mqtt;

/// <summary>One connection to a broker, from CONNECT to its end. Never used again after that.</summary>
/// <remarks>
/// A fresh client library object for each connection, so that an acknowledgement that comes late cannot go out over the
/// next connection, where the same packet identifier may mean another message.
/// </remarks>
internal sealed class BrokerConnection : IAsyncDisposable
{
    private const int MostReceiptsAtOnce = 256;

    private readonly BufferedAdapters _adapters;
    private readonly IMqttClient _client;
    private readonly AcknowledgementLine<Receipt> _line = new();
    private readonly TaskCompletionSource<Exception?> _ended = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly CancellationTokenSource _over = new();
    private readonly TimeSpan _keepAlive;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private Task _acknowledging = Task.CompletedTask;
    private Task _pinging = Task.CompletedTask;

    /// <param name="readAhead">Bytes to read at once; more where many messages come.</param>
    /// <param name="gate">Holds up the reading; null: nothing does.</param>
    public BrokerConnection(ConfiguredBroker broker, TimeProvider time, ILogger logger, int readAhead = 1024, InboxGate? gate = null)
    {
        _keepAlive = TimeSpan.FromSeconds(broker.KeepAliveSeconds);
        _time = time;
        _logger = logger;
        _adapters = new(readAhead, gate, (ushort)broker.KeepAliveSeconds);
        _client = new MqttClientFactory().CreateMqttClient(_adapters);
        _client.DisconnectedAsync += args =>
        {
            // The reason it gives is unreliable; it also comes for connections that never were.
            _line.Close();
            SessionTakenOver = args.Reason == MqttClientDisconnectReason.SessionTakenOver;
            _ended.TrySetResult(args.Exception);
            return Task.CompletedTask;
        };
    }

    /// <summary>Ends with the connection; the result is the exception that ended it, where there was one.</summary>
    public Task<Exception?> Ended => _ended.Task;

    /// <summary>Another client came with our name.</summary>
    public bool SessionTakenOver { get; private set; }

    public bool IsConnected => _client.IsConnected;

    /// <summary>Calls <paramref name="receive"/> for each message. To be called before the connection is opened.</summary>
    public void Receive(PublishHandler receive) =>
        _adapters.Take = (in message) =>
        {
            var acknowledge = message.Quality == 0 ? null : _line.Join(new(message.PacketId, IsFirstOfTwo: message.Quality == 2));
            try
            {
                receive(message, acknowledge);
            }
            catch (Exception fault)
            {
                // It would end the connection, and the message would come again and end the next.
                _logger.MessageHandlerFailed(Encoding.UTF8.GetString(message.Topic), fault);
                acknowledge?.Invoke();
            }
        };

    /// <summary>True where the broker kept our session, with its subscriptions and what waits in it.</summary>
    /// <exception cref="BrokerRefusedException">The broker answered no.</exception>
    public async Task<bool> OpenAsync(MqttClientOptions options, CancellationToken stop)
    {
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
        patience.CancelAfter(ConnectOptions.Patience);
        MqttClientConnectResult answer;
        try
        {
            answer = await _client.ConnectAsync(options, patience.Token);
        }
        catch (OperationCanceledException) when (!stop.IsCancellationRequested)
        {
            throw new TimeoutException("The broker did not answer in time.");
        }
        catch (Exception e) when (ConnectFault.IsHangUp(e) && ConnectOptions.HasSeenNoTls(options))
        {
            throw new AuthenticationException("the other end hung up and showed no certificate", e);
        }

        if (answer.ResultCode != MqttClientConnectResultCode.Success)
        {
            var reason = string.IsNullOrEmpty(answer.ReasonString) ? $"{answer.ResultCode}" : $"{answer.ResultCode}, {answer.ReasonString}";
            throw new BrokerRefusedException((int)answer.ResultCode, reason);
        }

        _acknowledging = AcknowledgeAsync();
        _pinging = PingAsync(_over.Token);
        return answer.IsSessionPresent;
    }

    /// <summary>Subscribes at QoS 1. Returns what the broker refused, with its reason.</summary>
    public async Task<IReadOnlyList<(string Filter, string Reason)>> SubscribeAsync(
        IReadOnlyList<string> filters, bool five, CancellationToken stop)
    {
        var subscribe = new MqttClientSubscribeOptionsBuilder();
        foreach (var filter in filters)
        {
            subscribe.WithTopicFilter(new MqttTopicFilter
            {
                Topic = filter,
                QualityOfServiceLevel = MqttQualityOfServiceLevel.AtLeastOnce,
                NoLocal = five,
            });
        }

        using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
        patience.CancelAfter(ConnectOptions.Patience);
        var answer = await _client.SubscribeAsync(subscribe.Build(), patience.Token);
        return [.. answer.Items.Where(i => (int)i.ResultCode >= 0x80).Select(i => (i.TopicFilter.Topic, $"{i.ResultCode}"))];
    }

    /// <exception cref="IOException">There is no connection, or the broker did not take it.</exception>
    public async Task PublishAsync(string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop)
    {
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
        patience.CancelAfter(ConnectOptions.Patience);
        MqttClientPublishResult answer;
        try
        {
            var message = new MqttApplicationMessage
            {
                Topic = topic,
                Payload = new ReadOnlySequence<byte>(payload),
                QualityOfServiceLevel = MqttQualityOfServiceLevel.AtLeastOnce,
                Retain = retain,
            };
            answer = await _client.PublishAsync(message, patience.Token);
        }
        catch (OperationCanceledException) when (!stop.IsCancellationRequested)
        {
            throw new IOException($"The broker did not acknowledge {topic} in time.");
        }
        catch (Exception e) when (e is MQTTnet.Exceptions.MqttCommunicationException or MQTTnet.Exceptions.MqttClientNotConnectedException or ObjectDisposedException or InvalidOperationException)
        {
            throw new IOException($"The connection broke while {topic} was being published: {e.Message}", e);
        }

        if (!answer.IsSuccess)
            throw new IOException($"The broker refuses {topic}: {answer.ReasonCode} {answer.ReasonString}");
    }

    /// <summary>Says good-bye, so that the broker does not publish the will. Does nothing where the connection is gone.</summary>
    public async Task CloseAsync(CancellationToken stop)
    {
        _line.Close();
        await _acknowledging.WaitAsync(stop).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        if (!_client.IsConnected)
            return;
        try
        {
            await _client.DisconnectAsync(new MqttClientDisconnectOptionsBuilder().Build(), stop);
        }
        catch (Exception e) when (e is MQTTnet.Exceptions.MqttCommunicationException or MQTTnet.Exceptions.MqttClientNotConnectedException or OperationCanceledException or IOException)
        {
            _logger.GoodByeFailed(e.Message);
        }
    }

    /// <summary>Ends the connection without a good-bye; <see cref="Ended"/> follows.</summary>
    public void BreakOff() => _ended.TrySetResult(new IOException("more messages wait for the store than MQTT can number"));

    public async ValueTask DisposeAsync()
    {
        _line.Close();
        await _over.CancelAsync();
        await _pinging;
        _client.Dispose();
        _ended.TrySetResult(null);
        await _acknowledging;
        _over.Dispose();
    }

    /// <summary>Pings whether or not something else was sent: the answer also tells that the broker is there still.</summary>
    private async Task PingAsync(CancellationToken stop)
    {
        using var timer = new PeriodicTimer(_keepAlive, _time);
        try
        {
            while (await timer.WaitForNextTickAsync(stop))
                await PingOnceAsync(stop);
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
        }
        catch (Exception e) // whatever the library calls it: the connection is gone
        {
            _ended.TrySetResult(e);
        }
    }

    private async Task PingOnceAsync(CancellationToken stop)
    {
        var arrivals = _adapters.Channel!.Arrivals;
        using var patience = new CancellationTokenSource(ConnectOptions.Patience, _time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(stop, patience.Token);
        try
        {
            await _client.PingAsync(either.Token);
        }
        catch (Exception) when (patience.IsCancellationRequested && !stop.IsCancellationRequested)
        {
            // Whose messages come is there, whatever became of the answer.
            if (_adapters.Channel.Arrivals == arrivals)
                throw new TimeoutException("The broker does not answer a ping.");
        }
    }

    /// <summary>Sends what is ready, all that is ready in one write; past the library, which would make a write of each.</summary>
    private async Task AcknowledgeAsync()
    {
        var packets = new byte[MostReceiptsAtOnce * Receipt.Bytes];
        while (await _line.Ready.WaitToReadAsync())
        {
            var length = 0;
            for (; length < packets.Length && _line.Ready.TryRead(out var receipt); length += Receipt.Bytes)
                receipt.Write(packets.AsSpan(length));
            try
            {
                await _adapters.Channel!.WriteAsync(new ReadOnlySequence<byte>(packets, 0, length), isEndOfPacket: true, CancellationToken.None);
            }
            catch (Exception e) when (e is not OutOfMemoryException)
            {
                // The connection is gone, whatever the library calls it: the broker will send the messages again.
                _logger.AcknowledgementLost(e.Message);
                return;
            }
        }
    }
}
