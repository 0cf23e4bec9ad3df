using System.Diagnostics;
using System.Net.Sockets;
using System.Text;
using LaserWatch.EndToEnd;
using LaserWatch.Mqtt;

namespace LaserWatch.Pipeline;

public sealed class WatchdogTests
{
    [Theory]
    [InlineData("60000000", null, 60.0)]
    [InlineData("60000000", "17", 60.0)]
    [InlineData("60000000", "18", null)]
    [InlineData(null, null, null)]
    [InlineData("0", null, null)]
    [InlineData("-1", null, null)]
    [InlineData("soon", null, null)]
    [InlineData("99999999999999999999", null, null)]
    public void The_environment_says_whether_signs_of_life_are_wanted_and_from_whom(string? microseconds, string? process, double? seconds)
    {
        var environment = new Dictionary<string, string?> { ["WATCHDOG_USEC"] = microseconds, ["WATCHDOG_PID"] = process };

        Assert.Equal(seconds, Watchdog.Asked(environment.GetValueOrDefault, 17)?.TotalSeconds);
    }

    /// <summary>By the protocol of sd_notify(3): a datagram to the socket that NOTIFY_SOCKET names.</summary>
    [SkippableFact]
    public async Task The_running_agent_keeps_giving_signs_of_life()
    {
        Skip.If(OperatingSystem.IsWindows(), "datagrams to a Unix socket");
        using var folder = new AgentFolder(embedded: RealBroker.FreePort());
        var path = Path.ChangeExtension(folder.Config, ".sock");
        using var socket = new Socket(AddressFamily.Unix, SocketType.Dgram, ProtocolType.Unspecified);
        socket.Bind(new UnixDomainSocketEndPoint(path));
        using var agent = AgentProcess.StartWith(
            new Dictionary<string, string> { ["NOTIFY_SOCKET"] = path, ["WATCHDOG_USEC"] = "300000" }, "run", "--config", folder.Config);

        var signs = 0;
        var bytes = new byte[512];
        using var limit = new CancellationTokenSource(TimeSpan.FromSeconds(60));
        while (signs < 5)
            signs += Encoding.UTF8.GetString(bytes, 0, await socket.ReceiveAsync(bytes, limit.Token)).Contains("WATCHDOG=1", StringComparison.Ordinal) ? 1 : 0;

        await agent.TerminateAsync(TimeSpan.FromSeconds(20));
    }
}
