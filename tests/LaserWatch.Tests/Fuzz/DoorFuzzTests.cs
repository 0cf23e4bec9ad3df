using System.Net.Sockets;
using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using Xunit.Abstractions;

namespace LaserWatch.Fuzz;

/// <summary>Malformed packets at the sensors' door: they end their own connection, and nothing else.</summary>
public sealed class DoorFuzzTests(ITestOutputHelper output)
{
    // MQTT 3.1.1, section 3.1: client id "a", clean session.
    private static readonly byte[] Connect = [0x10, 13, 0, 4, (byte)'M', (byte)'Q', (byte)'T', (byte)'T', 4, 2, 0, 60, 0, 1, (byte)'a'];

    // Section 3.3: topic "laserwatch/bay1/power", QoS 0, "50".
    private static readonly byte[] Publish = [0x30, 25, 0, 21, .. "laserwatch/bay1/power50"u8];

    private readonly LogLines<EmbeddedBrokerLink> _log = new();

    [Fact]
    public async Task No_bytes_bring_the_door_down()
    {
        await using var broker = await StartAsync();
        byte[] five = [0x10, 16, 0, 4, (byte)'M', (byte)'Q', (byte)'T', (byte)'T', 5, 2, 0, 60, 0, 0, 3, (byte)'a', (byte)'b', (byte)'c'];
        byte[] subscribe = [0x82, 6, 0, 1, 0, 1, (byte)'#', 1];
        new Fuzzing(output, [[.. Connect, .. Publish], [.. five, .. subscribe], [.. Connect, .. subscribe, 0xC0, 0, .. Publish]], ["\u00ff\u00ff\u00ff\u007f", "MQTT", "MQIsdp"], bytes =>
        {
            using var client = Client(broker);
            try
            {
                client.Send(bytes);
                client.Shutdown(SocketShutdown.Send);
            }
            catch (SocketException)
            {
                return; // it had enough before we were done
            }

            Assert.True(Ends(client));

            while (broker.Inbox.TryRead(out _))
            {
            }
        }).Run(cases: 1_500);

        using var sane = Client(broker);
        sane.Send([.. Connect, .. Publish]);
        RawMessage message;
        do
        {
            message = await broker.NextAsync();
        }
        while (message.Topic != "laserwatch/bay1/power" || RunningLink.Text(message) != "50");
        Assert.DoesNotContain(_log.Warnings, line => line.Contains("failed", StringComparison.OrdinalIgnoreCase));
    }

    [Fact]
    public async Task Packets_in_single_bytes_are_read_as_whole_ones()
    {
        await using var broker = await StartAsync();
        using var client = Client(broker);
        client.NoDelay = true;
        foreach (var one in (byte[])[.. Connect, .. Publish])
            client.Send([one]);

        Assert.Equal("50", RunningLink.Text(await broker.NextAsync()));
    }

    [Fact]
    public async Task A_packet_that_breaks_off_ends_its_connection_at_once()
    {
        await using var broker = await StartAsync();
        using var client = Client(broker);
        client.Send([.. Connect, .. Publish.AsSpan(0, 10)]);
        client.Shutdown(SocketShutdown.Send);

        // Left to itself the library would ask for the rest for ever, and without a pause.
        Assert.True(Ends(client));
        Assert.False(broker.Inbox.TryRead(out _));
    }

    /// <summary>The other end closes, with a reset where bytes were left unread; false where it does not in ten seconds.</summary>
    private static bool Ends(Socket client)
    {
        var answer = new byte[4096];
        try
        {
            while (client.Receive(answer) > 0)
            {
            }

            return true;
        }
        catch (SocketException end)
        {
            return end.SocketErrorCode == SocketError.ConnectionReset;
        }
    }

    private static Socket Client(RunningLink broker)
    {
        var client = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { ReceiveTimeout = 10_000 };
        client.Connect("127.0.0.1", ((EmbeddedBrokerLink)broker.Link).Port);
        return client;
    }

    private Task<RunningLink> StartAsync() =>
        RunningLink.ConnectedAsync(new EmbeddedBrokerLink(new ConfiguredEmbeddedBroker { Port = 0 }, "laserwatch", null, TimeProvider.System, _log));
}
