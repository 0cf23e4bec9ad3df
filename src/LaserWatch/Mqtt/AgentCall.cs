using System.Buffers;
using System.Net.Sockets;
using System.Threading.Channels;
using LaserWatch.Configuration;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Mqtt;

/// <summary>A short visit to the broker: says something to the agent, and hears what it publishes.</summary>
/// <remarks>Its session ends with it, and it leaves no will behind.</remarks>
public sealed class AgentCall : IAsyncDisposable
{
    private readonly BrokerConnection _connection;
    private readonly Channel<(string Topic, byte[] Payload)> _heard = Channel.CreateUnbounded<(string, byte[])>();

    private AgentCall()
    {
        _connection = new(NullLogger.Instance);
        _connection.Receive((message, _, acknowledge) =>
        {
            acknowledge?.Invoke();
            _heard.Writer.TryWrite((message.Topic, message.Payload.ToArray()));
        });
    }

    /// <summary>What has come on the topics that were asked for.</summary>
    public ChannelReader<(string Topic, byte[] Payload)> Heard => _heard.Reader;

    /// <exception cref="IOException">The broker cannot be reached, or does not let us in; the message says why, and the mend.</exception>
    public static async Task<AgentCall> OpenAsync(ConfiguredBroker broker, IReadOnlyList<string> filters, CancellationToken stop)
    {
        // Session names are one a client; two people may call at the same time.
        var name = $"{broker.ClientId}-call-{Guid.NewGuid():N}"[..Math.Min(40, broker.ClientId.Length + 14)];
        var call = new AgentCall();
        try
        {
            await call._connection.OpenAsync(ConnectOptions.Build(broker, name, null, persistent: false, five: true), stop);
            var refused = filters.Count == 0 ? [] : await call._connection.SubscribeAsync(filters, five: true, stop);
            if (refused.Count > 0)
                throw new IOException($"The broker {broker.Host}:{broker.Port} refuses the subscription {refused[0].Filter}: {refused[0].Reason}. Check its access list.");
            return call;
        }
        catch (Exception e) when (e is not OperationCanceledException)
        {
            await call.DisposeAsync();
            if (e is IOException)
                throw;
            var fault = ConnectFault.Of(e, broker);
            throw new IOException($"No connection to the broker {broker.Host}:{broker.Port}: {fault.What}. {fault.Mend}.", e);
        }
    }

    /// <summary>True where no program listens at the broker's port: not one that refuses us, and not a network that is down.</summary>
    public static bool NobodyListens(IOException fault) =>
        fault.GetBaseException() is SocketException { SocketErrorCode: SocketError.ConnectionRefused };

    /// <exception cref="IOException">The broker did not take it.</exception>
    public Task SayAsync(string topic, ReadOnlyMemory<byte> payload, CancellationToken stop) =>
        _connection.PublishAsync(topic, payload, retain: false, stop);

    public async ValueTask DisposeAsync()
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(1));
        await _connection.CloseAsync(patience.Token);
        await _connection.DisposeAsync();
    }
}
