using System.Net;
using System.Net.Sockets;
using LaserWatch.Configuration;

namespace LaserWatch.Mqtt;

/// <summary>Against a broker that knows MQTT 3.1.1 only: a few bytes over a socket, as the standards spell them.</summary>
public class FallBackTests
{
    private readonly LogLines<MqttClientLink> _log = new();

    [Theory]
    [InlineData(new byte[] { 0x20, 2, 0, 1 }, 1)] // 3.1.1 section 3.2.2.3: unacceptable protocol version
    [InlineData(new byte[] { 0x20, 3, 0, 0x84, 0 }, 1)] // 5.0 section 3.2.2.2: unsupported protocol version
    [InlineData(new byte[0], 0)] // hangs up
    public async Task A_broker_without_version_5_is_reached_in_3_1_1(byte[] answerToFive, int fallBackLines)
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        using var stop = new CancellationTokenSource();
        var serving = ServeAsync(listener, answerToFive, stop.Token);
        var options = new ConfiguredBroker { Host = "127.0.0.1", Port = ((IPEndPoint)listener.LocalEndpoint).Port };
        await using (var link = await RunningLink.ConnectedAsync(
            new MqttClientLink(options, ["laserwatch/+/+"], "bay1", TimeProvider.System, seed: 1, _log)))
        {
            Assert.Contains(_log.All, l => l.Text.EndsWith("MQTT 3.1.1; session kept: False", StringComparison.Ordinal));
            Assert.Equal(fallBackLines, _log.Warnings.Count(w => w.Contains("does not speak MQTT 5", StringComparison.Ordinal)));
        }

        await stop.CancelAsync();
        Assert.Equal([5, 4], await serving);
    }

    /// <summary>Returns the protocol levels that clients came with.</summary>
    private static async Task<List<int>> ServeAsync(TcpListener listener, byte[] answerToFive, CancellationToken stop)
    {
        var levels = new List<int>();
        var buffer = new byte[1024];
        try
        {
            while (true)
            {
                using var client = await listener.AcceptTcpClientAsync(stop);
                var stream = client.GetStream();
                while (await stream.ReadAsync(buffer, stop) is var count and > 0)
                {
                    switch (buffer[0] >> 4)
                    {
                        case 1: // CONNECT: two bytes of header here, then "MQTT" with its length, then the level
                            levels.Add(buffer[8]);
                            await stream.WriteAsync(buffer[8] == 5 ? answerToFive : [0x20, 2, 0, 0], stop);
                            break;
                        case 8: // SUBSCRIBE: granted at QoS 1
                            await stream.WriteAsync(new byte[] { 0x90, 3, buffer[2], buffer[3], 1 }, stop);
                            break;
                        case 3: // PUBLISH: acknowledged; the topic's length stands at 2
                            var id = 4 + buffer[3];
                            await stream.WriteAsync(new byte[] { 0x40, 2, buffer[id], buffer[id + 1] }, stop);
                            break;
                    }

                    if (levels[^1] == 5)
                        break;
                }
            }
        }
        catch (Exception e) when (e is OperationCanceledException or IOException)
        {
        }

        return levels;
    }
}
