using MQTTnet;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>The least that a program in our place could be: the library's client, connected and subscribed, until it is ended.</summary>
internal static class BareWorker
{
    public static async Task RunAsync(int port)
    {
        using var client = new MqttClientFactory().CreateMqttClient();
        await client.ConnectAsync(new MqttClientOptionsBuilder().WithTcpServer("127.0.0.1", port).WithClientId("bare").Build());
        await client.SubscribeAsync("laserwatch/+/+");
        await Task.Delay(Timeout.Infinite);
    }
}
