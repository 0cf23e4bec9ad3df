using System.Diagnostics;
using LaserWatch.Configuration;

namespace LaserWatch.Mqtt;

public class PresenceLinksTests
{
    private readonly LogLines<MqttClientLink> _log = new();

    [SkippableFact]
    public async Task When_the_agent_dies_the_broker_says_offline_of_each_machine_and_of_the_agent()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var line = new CutLine(broker.Port);
        var ear = await broker.ListenAsync("laserwatch/+/status");
        await using var link = await RunningLink.ConnectedAsync(Link(line.Port, null));
        link.Link.Announce("bay1");
        link.Link.Announce("bay2");
        link.Link.Announce("bay1");
        await RealBroker.UntilAsync(() => link.Link.Connections == 3, "no presence connections");
        line.Cut();

        await ear.HearsAsync("""laserwatch/bay1/status {"state":"offline"}""");
        await ear.HearsAsync("""laserwatch/bay2/status {"state":"offline"}""");
        await ear.HearsAsync("""laserwatch/_agent/status {"state":"offline"}""");
    }

    [SkippableFact]
    public async Task The_will_of_an_only_machine_rides_on_the_main_connection()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var line = new CutLine(broker.Port);
        await using var link = await RunningLink.ConnectedAsync(Link(line.Port, "bay1"));
        link.Link.Announce("bay1");
        line.Cut();

        // Subscribed only now: the will is retained.
        var ear = await broker.ListenAsync("laserwatch/+/status");
        await ear.HearsAsync("""laserwatch/bay1/status {"state":"offline"}""");
        Assert.Equal(1, link.Link.Connections);
    }

    [SkippableFact]
    public async Task A_short_break_is_no_death_of_the_agent_and_each_new_connection_is_counted()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var line = new CutLine(broker.Port);
        var ear = await broker.ListenAsync("laserwatch/+/status");
        await using var link = await RunningLink.ConnectedAsync(Link(line.Port, "bay1"));
        var since = Stopwatch.GetTimestamp();
        line.Cut();
        line.Mend();
        await RealBroker.UntilAsync(() => link.Link.Connections == 2, "not connected again");
        Skip.If(Stopwatch.GetElapsedTime(since).TotalSeconds > ConnectOptions.WillDelaySeconds - 0.5, "this machine was too busy to connect within the will delay");
        await Task.Delay(TimeSpan.FromSeconds(ConnectOptions.WillDelaySeconds + 1.5));

        Assert.Empty(ear.Lines);
    }

    [SkippableFact]
    public async Task Beyond_the_bound_the_machines_are_told_of_on_a_clean_stop_only_and_it_is_logged_once()
    {
        await using var broker = await RealBroker.StartAsync();
        var ear = await broker.ListenAsync("laserwatch/+/status");
        await using var link = await RunningLink.ConnectedAsync(Link(broker.Port, null));
        for (var i = 0; i < PresenceLinks.Most + 2; i++)
            link.Link.Announce($"bay{i}");
        await RealBroker.UntilAsync(() => link.Link.Connections == PresenceLinks.Most + 1, "not all presence connections");
        await link.StopAsync();

        for (var i = 0; i < PresenceLinks.Most + 2; i++)
            await ear.HearsAsync($$"""laserwatch/bay{{i}}/status {"state":"offline"}""");
        Assert.Equal(
            ["More than 64 machines: the broker cannot say of bay64 that it is offline, should the agent die; laserwatch/_agent/status says it of the agent"],
            _log.Warnings);
    }

    private MqttClientLink Link(int port, string? onlyMachine) =>
        new(new ConfiguredBroker { Host = "127.0.0.1", Port = port, ClientId = "agent" }, ["laserwatch/+/+"], onlyMachine, TimeProvider.System, seed: 1, _log);
}
