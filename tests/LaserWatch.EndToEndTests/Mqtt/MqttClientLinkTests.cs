using System.Globalization;
using System.Text;
using LaserWatch.Configuration;

namespace LaserWatch.Mqtt;

[Collection(Alone.Name)] // a good-bye has one second, which the rest of the suite can take from it
public class MqttClientLinkTests
{
    private readonly LogLines<MqttClientLink> _log = new();

    [SkippableFact]
    public async Task A_message_acknowledged_is_not_sent_again_and_one_that_is_not_comes_again_marked_so()
    {
        await using var broker = await RealBroker.StartAsync();
        await using (var first = await RunningLink.ConnectedAsync(Link(broker)))
        {
            await broker.PublishAsync("laserwatch/bay1/air_pressure", "210.5", qos: 1);
            await broker.PublishAsync("laserwatch/bay1/air_pressure", "211.5", qos: 1);
            var safe = await first.NextAsync();
            var unsafeYet = await first.NextAsync();
            safe.Acknowledge!();

            Assert.Equal(("210.5", false), (RunningLink.Text(safe), safe.SentAgain));
            Assert.Equal(("211.5", false), (RunningLink.Text(unsafeYet), unsafeYet.SentAgain));
            Assert.Equal($"127.0.0.1:{broker.Port}/agent", safe.Session);
        }

        await using var second = await RunningLink.ConnectedAsync(Link(broker));
        var again = await second.NextAsync();
        await broker.PublishAsync("laserwatch/bay1/air_pressure", "212.5", qos: 1);
        var next = await second.NextAsync();

        Assert.Equal(("211.5", true), (RunningLink.Text(again), again.SentAgain));
        Assert.Equal(("212.5", false), (RunningLink.Text(next), next.SentAgain));
    }

    [SkippableFact]
    public async Task Ten_thousand_messages_come_once_each_through_an_inbox_smaller_than_the_window()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var link = await RunningLink.ConnectedAsync(Link(broker), inbox: 100);

        var publishing = broker.PublishLinesAsync(
            "laserwatch/bay1/tube_current", Enumerable.Range(0, 10_000).Select(i => i.ToString(CultureInfo.InvariantCulture)), qos: 1);
        var heard = new List<int>();
        while (heard.Count < 10_000)
        {
            var message = await link.NextAsync();
            heard.Add(int.Parse(RunningLink.Text(message), CultureInfo.InvariantCulture));
            message.Acknowledge!();
        }

        await publishing;
        Assert.Equal(Enumerable.Range(0, 10_000), heard);
        Assert.Equal(0, link.Link.Dropped);
        Assert.False(link.Inbox.TryRead(out _));
    }

    [SkippableFact]
    public async Task Acknowledged_in_any_order_the_messages_are_not_sent_again()
    {
        await using var broker = await RealBroker.StartAsync();
        await using (var first = await RunningLink.ConnectedAsync(Link(broker)))
        {
            var all = new List<RawMessage>();
            await broker.PublishLinesAsync("laserwatch/bay1/power", Enumerable.Range(0, 50).Select(i => $"{i}"), qos: 1);
            while (all.Count < 50)
                all.Add(await first.NextAsync());
            foreach (var message in Enumerable.Reverse(all))
                message.Acknowledge!();
        }

        await using var second = await RunningLink.ConnectedAsync(Link(broker));
        await broker.PublishAsync("laserwatch/bay1/power", "last", qos: 1);

        Assert.Equal("last", RunningLink.Text(await second.NextAsync()));
    }

    [SkippableFact]
    public async Task After_a_restart_of_the_broker_the_link_comes_back_with_its_subscriptions()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var link = await RunningLink.ConnectedAsync(Link(broker));
        await broker.StopAsync();
        await RealBroker.UntilAsync(() => !link.Link.IsConnected, "the link has not noticed");
        File.Delete(Path.Combine(broker.Folder, "mosquitto.db"));
        await broker.RestartAsync();
        await RealBroker.UntilAsync(() => link.Link.IsConnected, "not connected again");
        await broker.PublishAsync("laserwatch/bay1/lasing", "1", qos: 1);

        Assert.Equal("1", RunningLink.Text(await link.NextAsync()));
        Assert.Equal(2, link.Link.Connections);
        Assert.Contains(_log.Warnings, w => w.Contains("did not keep our session", StringComparison.Ordinal));
    }

    [SkippableFact]
    public async Task An_acknowledgement_that_comes_after_the_connection_broke_does_no_harm()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var link = await RunningLink.ConnectedAsync(Link(broker));
        await broker.PublishAsync("laserwatch/bay1/lasing", "1", qos: 1);
        var message = await link.NextAsync();
        await broker.StopAsync();
        await RealBroker.UntilAsync(() => !link.Link.IsConnected, "the link has not noticed");
        message.Acknowledge!();
        await broker.RestartAsync();

        var again = await link.NextAsync();
        Assert.Equal(("1", true, message.PacketId), (RunningLink.Text(again), again.SentAgain, again.PacketId));
    }

    [SkippableFact]
    public async Task While_the_inbox_is_full_quality_0_is_dropped_and_counted_and_quality_1_waits_in_order()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var link = await RunningLink.ConnectedAsync(Link(broker), inbox: 2);
        await broker.PublishLinesAsync("laserwatch/bay1/power", ["1", "2", "3"], qos: 1);
        await RealBroker.UntilAsync(() => link.Inbox.Count == 2, "the inbox is not full");
        await broker.PublishLinesAsync("laserwatch/bay1/power", ["0", "0"], qos: 0);
        await RealBroker.UntilAsync(() => link.Link.Dropped == 2, "nothing was dropped");
        await broker.PublishAsync("laserwatch/bay1/power", "4", qos: 1);

        var heard = new List<string>();
        while (heard.Count < 4)
            heard.Add(RunningLink.Text(await link.NextAsync()));
        Assert.Equal(["1", "2", "3", "4"], heard);
        Assert.Equal(2, link.Link.Dropped);
    }

    [SkippableFact]
    public async Task A_clean_stop_says_offline_and_so_does_the_broker_for_each_machine()
    {
        await using var broker = await RealBroker.StartAsync();
        var ear = await broker.ListenAsync("laserwatch/+/status");
        await using var link = await RunningLink.ConnectedAsync(Link(broker));
        link.Link.Announce("bay1");
        link.Link.Announce("bay2");
        await RealBroker.UntilAsync(() => link.Link.Connections == 3, "no presence connections");
        await link.StopAsync();

        await ear.HearsAsync("""laserwatch/bay1/status {"state":"offline"}""");
        await ear.HearsAsync("""laserwatch/bay2/status {"state":"offline"}""");
        await ear.HearsAsync("""laserwatch/_agent/status {"state":"offline"}""");
        Assert.Equal("""laserwatch/_agent/status {"state":"online"}""", ear.Lines[0]);
        Assert.Equal(4, ear.Lines.Count);
    }

    [SkippableFact]
    public async Task What_the_agent_publishes_is_retained_and_does_not_come_back_to_it()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var link = await RunningLink.ConnectedAsync(Link(broker, "laserwatch/#"));
        await link.Link.PublishAsync("laserwatch/bay1/alarm/coolant-hot", Encoding.UTF8.GetBytes("{}"), retain: true, default);
        await broker.PublishAsync("laserwatch/bay1/alarm/coolant-cold", "{}", qos: 1);
        await broker.PublishAsync("laserwatch/bay1/power", "50", qos: 1);

        Assert.Equal("50", RunningLink.Text(await link.NextAsync()));
        var ear = await broker.ListenAsync("laserwatch/bay1/alarm/#");
        await ear.HearsAsync("laserwatch/bay1/alarm/coolant-hot {}");
    }

    [SkippableFact]
    public async Task Publishing_without_a_connection_fails_at_once()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var link = Link(broker);

        await Assert.ThrowsAsync<IOException>(() => link.PublishAsync("laserwatch/bay1/status", default, retain: true, default));
    }

    [SkippableFact]
    public async Task A_wrong_password_is_said_once_and_tried_again_until_it_is_right()
    {
        using var temporary = new TemporaryFile("wrong");
        await using var broker = await RealBroker.StartAsync(
            ["allow_anonymous false", "password_file FOLDER/passwords"], folder => MakePassword(folder, "agent", "right"));
        await using var link = new RunningLink(Link(broker, options: o => o with { User = "agent", Password = new Secret { File = temporary.Path } }));
        await RealBroker.UntilAsync(() => _log.Warnings.Count > 0, "nothing logged");
        await Task.Delay(2500);

        Assert.Equal(
            [$"No connection to the broker 127.0.0.1:{broker.Port}: the broker refuses the connection: NotAuthorized. check broker.user and broker.password. Trying on"],
            _log.Warnings);

        await File.WriteAllTextAsync(temporary.Path, "right");
        await RealBroker.UntilAsync(() => link.Link.IsConnected, "not connected with the password made right");
    }

    [SkippableFact]
    public async Task Two_agents_of_one_name_throw_each_other_out_and_the_log_says_why()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var first = await RunningLink.ConnectedAsync(Link(broker));
        await using var second = await RunningLink.ConnectedAsync(Link(broker));

        // mosquitto 2.0 hangs up on the first of them without a word; later brokers say why.
        await RealBroker.UntilAsync(
            () => _log.Warnings.Any(w => w.EndsWith("give one of them another broker.clientId", StringComparison.Ordinal)), "nothing logged");
        Assert.All(_log.Warnings, w => Assert.Contains($"127.0.0.1:{broker.Port}", w, StringComparison.Ordinal));
    }

    private static void MakePassword(string folder, string user, string password)
    {
        var file = Path.Combine(folder, "passwords");
        Needs.Program("mosquitto_passwd");
        using var tool = RealBroker.Start("mosquitto_passwd", "-b", "-c", file, user, password);
        tool.WaitForExit();
        Assert.Equal(0, tool.ExitCode);
    }

    private MqttClientLink Link(RealBroker broker, string filter = "laserwatch/+/+", Func<ConfiguredBroker, ConfiguredBroker>? options = null)
    {
        var all = new ConfiguredBroker { Host = "127.0.0.1", Port = broker.Port, ClientId = "agent" };
        return new(options?.Invoke(all) ?? all, [filter], onlyMachine: null, TimeProvider.System, seed: 1, _log);
    }
}
