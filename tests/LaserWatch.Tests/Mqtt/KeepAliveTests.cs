using System.Net;
using System.Net.Sockets;
using LaserWatch.Configuration;
using Microsoft.Extensions.Logging.Abstractions;
using MQTTnet.Exceptions;

namespace LaserWatch.Mqtt;

/// <summary>Against a few bytes over a socket, as MQTT 3.1.1 spells them: sections 3.1.2.10 (keep alive), 3.12 (PINGREQ) and 3.13 (PINGRESP).</summary>
public sealed class KeepAliveTests : IDisposable
{
    private const int Seconds = 1;

    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly ConfiguredBroker _broker;
    private readonly CancellationTokenSource _patience = new(TimeSpan.FromSeconds(60));

    public KeepAliveTests()
    {
        _listener.Start();
        _broker = new ConfiguredBroker { Host = "127.0.0.1", Port = ((IPEndPoint)_listener.LocalEndpoint).Port, KeepAliveSeconds = Seconds };
    }

    public void Dispose()
    {
        _listener.Dispose();
        _patience.Dispose();
    }

    [Fact]
    public async Task The_broker_is_promised_what_is_configured_and_pinged_each_time_it_is_over()
    {
        await using var connection = new BrokerConnection(NullLogger.Instance);
        using var broker = await OpenAsync(connection);
        for (var i = 0; i < 3; i++)
        {
            Assert.Equal([0xC0, 0], await ReadAsync(broker, 2)); // nothing came before it
            await broker.GetStream().WriteAsync(new byte[] { 0xD0, 0 }, _patience.Token);
        }

        Assert.True(connection.IsConnected);
        Assert.False(connection.Ended.IsCompleted);
    }

    [Fact]
    public async Task A_ping_without_an_answer_ends_the_connection()
    {
        await using var connection = new BrokerConnection(NullLogger.Instance);
        using var broker = await OpenAsync(connection);
        Assert.Equal([0xC0, 0], await ReadAsync(broker, 2));

        Assert.IsType<MqttCommunicationTimedOutException>(await connection.Ended.WaitAsync(_patience.Token));
    }

    private async Task<TcpClient> OpenAsync(BrokerConnection connection)
    {
        var opening = connection.OpenAsync(ConnectOptions.Build(_broker, "agent", willTopic: null, persistent: false, five: false), _patience.Token);
        var broker = await _listener.AcceptTcpClientAsync(_patience.Token);
        // Fixed header, "MQTT" with its length, level 4, flags, keep alive; then the client's name.
        var connect = await ReadAsync(broker, 2 + 6 + 1 + 1 + 2 + 2 + 5);
        Assert.Equal(0x10, connect[0]);
        Assert.Equal(Seconds, (connect[10] << 8) | connect[11]);
        await broker.GetStream().WriteAsync(new byte[] { 0x20, 2, 0, 0 }, _patience.Token);
        await opening;
        return broker;
    }

    private async Task<byte[]> ReadAsync(TcpClient from, int count)
    {
        var bytes = new byte[count];
        await from.GetStream().ReadExactlyAsync(bytes, _patience.Token);
        return bytes;
    }
}
