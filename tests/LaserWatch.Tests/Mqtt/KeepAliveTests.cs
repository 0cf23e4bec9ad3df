using System.Net;
using System.Net.Sockets;
using LaserWatch.Configuration;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Mqtt;

/// <summary>Against a few bytes over a socket, as MQTT 3.1.1 spells them: sections 3.1.2.10 (keep alive), 3.12 (PINGREQ) and 3.13 (PINGRESP).</summary>
public sealed class KeepAliveTests : IDisposable
{
    private const int Seconds = 300;

    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly FakeTimeProvider _time = new();
    private readonly ConfiguredBroker _broker;
    private readonly CancellationTokenSource _patience = new(TimeSpan.FromSeconds(30));

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
        await using var connection = new BrokerConnection(_broker, _time, NullLogger.Instance);
        using var broker = await OpenAsync(connection);
        for (var i = 0; i < 3; i++)
        {
            _time.Advance(TimeSpan.FromSeconds(Seconds));
            Assert.Equal([0xC0, 0], await ReadAsync(broker, 2)); // nothing came before it
            await broker.GetStream().WriteAsync(new byte[] { 0xD0, 0 }, _patience.Token);
            // Whether the answer has been taken cannot be seen from here; a ping that comes while one waits is another connection's.
            await Task.Delay(50, _patience.Token);
        }

        Assert.True(connection.IsConnected);
        Assert.False(connection.Ended.IsCompleted);
    }

    [Fact]
    public async Task A_ping_without_an_answer_ends_the_connection()
    {
        await using var connection = new BrokerConnection(_broker, _time, NullLogger.Instance);
        using var broker = await OpenAsync(connection);
        _time.Advance(TimeSpan.FromSeconds(Seconds));
        Assert.Equal([0xC0, 0], await ReadAsync(broker, 2));

        _time.Advance(ConnectOptions.Patience);

        var why = await connection.Ended.WaitAsync(_patience.Token);
        Assert.Equal("The broker does not answer a ping.", why?.Message);
    }

    [Fact]
    public async Task A_broker_whose_messages_come_is_there_even_where_the_answer_is_missing()
    {
        var came = new TaskCompletionSource();
        await using var connection = new BrokerConnection(_broker, _time, NullLogger.Instance);
        connection.Receive((in _, _) => came.SetResult());
        using var broker = await OpenAsync(connection);
        _time.Advance(TimeSpan.FromSeconds(Seconds));
        Assert.Equal([0xC0, 0], await ReadAsync(broker, 2));
        await broker.GetStream().WriteAsync(new byte[] { 0x30, 4, 0, 1, (byte)'t', (byte)'1' }, _patience.Token); // PUBLISH, QoS 0
        await came.Task.WaitAsync(_patience.Token);

        _time.Advance(ConnectOptions.Patience);
        await Task.Delay(50, _patience.Token); // it has given up on the answer
        _time.Advance(TimeSpan.FromSeconds(Seconds) - ConnectOptions.Patience);

        Assert.Equal([0xC0, 0], await ReadAsync(broker, 2)); // and asks again
        Assert.False(connection.Ended.IsCompleted);
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
