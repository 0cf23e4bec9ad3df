using System.Buffers;
using System.Security.Authentication;
using LaserWatch.Configuration;
using Microsoft.Extensions.Logging;
using MQTTnet;
using MQTTnet.Diagnostics.PacketInspection;
using MQTTnet.Exceptions;
using MQTTnet.Packets;
using MQTTnet.Protocol;

namespace LaserWatch.Mqtt;

/// <summary>Takes a message; must not wait.</summary>
/// <param name="acknowledge">Says that it is safe; null at QoS 0.</param>
internal delegate void MessageHandler(MqttApplicationMessage message, ushort packetId, Action? acknowledge);

/// <summary>One connection to a broker, from CONNECT to its end. Never used again after that.</summary>
/// <remarks>
/// A fresh client library object for each connection, so that an acknowledgement that comes late cannot go out over the
/// next connection, where the same packet identifier may mean another message.
/// </remarks>
internal sealed class BrokerConnection : IAsyncDisposable
{
    private readonly IMqttClient _client = new MqttClientFactory().CreateMqttClient();
    private readonly AcknowledgementLine<MqttApplicationMessageReceivedEventArgs> _line = new();
    private readonly TaskCompletionSource<Exception?> _ended = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly CancellationTokenSource _over = new();
    private readonly ILogger _logger;
    private Task _acknowledging = Task.CompletedTask;

    /// <param name="gate">Holds up the reading; null: nothing does.</param>
    public BrokerConnection(ILogger logger, InboxGate? gate = null)
    {
        _logger = logger;

        // The library waits for this before it reads on; of a message's own handler it only queues the calls, without bound.
        if (gate is not null)
            _client.InspectPacketAsync += args => args.Direction == MqttPacketFlowDirection.Inbound ? gate.PassAsync(_over.Token).AsTask() : Task.CompletedTask;
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

    /// <summary>Calls <paramref name="receive"/> for each message, one at a time. To be called before the connection is opened.</summary>
    public void Receive(MessageHandler receive) =>
        _client.ApplicationMessageReceivedAsync += args =>
        {
            var message = args.ApplicationMessage;
            args.AutoAcknowledge = false;
            var acknowledge = message.QualityOfServiceLevel == MqttQualityOfServiceLevel.AtMostOnce ? null : _line.Join(args);
            try
            {
                receive(message, args.PacketIdentifier, acknowledge);
            }
            catch (Exception fault)
            {
                // The library would swallow it, and the message would hold its place in the broker's window.
                _logger.MessageHandlerFailed(message.Topic, fault);
                acknowledge?.Invoke();
            }

            return Task.CompletedTask;
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
        catch (Exception e) when (e is MqttCommunicationException or MqttClientNotConnectedException or ObjectDisposedException or InvalidOperationException)
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
        catch (Exception e) when (e is MqttCommunicationException or MqttClientNotConnectedException or OperationCanceledException or IOException)
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
        _client.Dispose();
        _ended.TrySetResult(null);
        await _acknowledging;
        _over.Dispose();
    }

    private async Task AcknowledgeAsync()
    {
        await foreach (var received in _line.Ready.ReadAllAsync())
        {
            try
            {
                await received.AcknowledgeAsync(CancellationToken.None);
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
