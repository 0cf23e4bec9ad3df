using System.Diagnostics;
using System.Globalization;
using System.Text;
using LaserWatch.Configuration;

namespace LaserWatch.Mqtt;

public sealed class EmbeddedBrokerLinkTests : IDisposable
{
    private readonly LogLines<EmbeddedBrokerLink> _log = new();
    private readonly string _folder = Directory.CreateTempSubdirectory("lw-embedded").FullName;
    private readonly List<Process> _clients = [];

    [SkippableFact]
    public async Task A_sensor_gets_its_acknowledgement_only_when_the_message_is_safe()
    {
        await using var broker = await StartAsync();
        var sensor = Publish(broker, "laserwatch/bay1/air_pressure", "210.5", "-q", "1");
        var message = await broker.NextAsync();
        await Task.Delay(300);
        var waited = !sensor.HasExited;
        message.Acknowledge!();
        await sensor.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));

        Assert.True(waited);
        Assert.Equal(0, sensor.ExitCode);
        Assert.Equal(("laserwatch/bay1/air_pressure", "210.5", false), (message.Topic, RunningLink.Text(message), message.SentAgain));
    }

    [SkippableTheory]
    [InlineData("mqttv311", "1")]
    [InlineData("mqttv5", "1")]
    [InlineData("mqttv311", "2")]
    [InlineData("mqttv5", "2")]
    public async Task Two_thousand_messages_of_a_sensor_that_waits_for_nobody_come_once_each(string version, string qos)
    {
        await using var broker = await StartAsync();
        var sensor = Publish(broker, "laserwatch/bay1/power", null, "-q", qos, "-V", version, "-i", "sensor");
        for (var i = 0; i < 2000; i++)
            await sensor.StandardInput.WriteLineAsync($"{i}");
        sensor.StandardInput.Close();

        var heard = new List<int>();
        var batch = new List<RawMessage>();
        while (heard.Count < 2000)
        {
            var message = await broker.NextAsync();
            Assert.Equal("embedded/sensor", message.Session);
            heard.Add(int.Parse(RunningLink.Text(message), CultureInfo.InvariantCulture));
            batch.Add(message);

            // As a store commits: several at a time, here in the wrong order. No client has fewer than 20 under way.
            if (batch.Count < 20 && heard.Count < 2000)
                continue;
            foreach (var one in Enumerable.Reverse(batch))
                one.Acknowledge!();
            batch.Clear();
        }

        await sensor.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));
        Assert.Equal(Enumerable.Range(0, 2000), heard);
        Assert.False(broker.Inbox.TryRead(out _));
    }

    [SkippableFact]
    public async Task What_was_not_acknowledged_before_the_agent_ended_comes_again_in_the_same_session_marked_so()
    {
        var options = new ConfiguredEmbeddedBroker { Port = RealBroker.FreePort() };
        Process sensor;
        RawMessage lost;
        await using (var first = await StartAsync(options))
        {
            sensor = Publish(first, "laserwatch/bay1/power", null, "-q", "1", "-i", "sensor");
            await sensor.StandardInput.WriteLineAsync("50");
            await sensor.StandardInput.FlushAsync();
            lost = await first.NextAsync();
        }

        await using var second = await StartAsync(options);
        var again = await second.NextAsync();
        again.Acknowledge!();
        sensor.StandardInput.Close();
        await PublishedAsync(sensor);

        Assert.Equal(0, sensor.ExitCode);
        Assert.Equal(("50", true), (RunningLink.Text(again), again.SentAgain));
        Assert.Equal((lost.Session, lost.PacketId), (again.Session, again.PacketId));
        Assert.Equal("embedded/sensor", again.Session);
    }

    [SkippableFact]
    public async Task A_sensor_that_waits_holds_up_no_other()
    {
        await using var broker = await StartAsync();
        var held = Publish(broker, "laserwatch/bay1/power", "1", "-q", "1");
        var first = await broker.NextAsync();
        var other = Publish(broker, "laserwatch/bay2/power", "2", "-q", "1");
        var second = await broker.NextAsync();
        second.Acknowledge!();
        await other.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));

        Assert.False(held.HasExited);
        first.Acknowledge!();
        await held.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));
        Assert.Equal((0, 0), (held.ExitCode, other.ExitCode));
    }

    [SkippableFact]
    public async Task Alarm_and_status_topics_are_closed_to_sensors()
    {
        await using var broker = await StartAsync();
        var ear = await ListenAsync(broker, "laserwatch/bay1/#");
        await PublishedAsync(Publish(broker, "laserwatch/bay1/alarm/coolant-hot", "{}", "-q", "1", "-V", "mqttv5", "-i", "intruder"));
        await PublishedAsync(Publish(broker, "laserwatch/bay1/status", "{}", "-q", "1", "-i", "intruder"));
        await broker.Link.PublishAsync("laserwatch/bay1/alarm/coolant-cold", Encoding.UTF8.GetBytes("{}"), retain: true, default);

        await ear.HearsAsync("laserwatch/bay1/alarm/coolant-cold {}");
        Assert.Equal(["laserwatch/bay1/alarm/coolant-cold {}"], ear.Lines);
        Assert.Equal(2, ((EmbeddedBrokerLink)broker.Link).Refused);
        Assert.False(broker.Inbox.TryRead(out _));
    }

    [SkippableFact]
    public async Task Retained_alarms_stand_after_a_restart_and_a_status_then_says_offline()
    {
        await using (var first = await StartAsync())
        {
            await first.Link.PublishAsync("laserwatch/bay1/alarm/coolant-hot", Encoding.UTF8.GetBytes("""{"state":"unacknowledged"}"""), retain: true, default);
            await first.Link.PublishAsync("laserwatch/bay1/status", Encoding.UTF8.GetBytes("""{"state":"online"}"""), retain: true, default);
        }

        await using var second = await StartAsync();
        var ear = await ListenAsync(second, "laserwatch/bay1/#");

        await ear.HearsAsync("""laserwatch/bay1/alarm/coolant-hot {"state":"unacknowledged"}""");
        await ear.HearsAsync("""laserwatch/bay1/status {"state":"offline"}""");
    }

    [SkippableFact]
    public async Task An_alarm_handed_over_is_in_the_file_at_once()
    {
        await using var broker = await StartAsync();
        await broker.Link.PublishAsync("laserwatch/bay1/alarm/coolant-hot", Encoding.UTF8.GetBytes("{}"), retain: true, default);

        Assert.Equal(
            [("laserwatch/_agent/status", """{"state":"online"}"""), ("laserwatch/bay1/alarm/coolant-hot", "{}")],
            (await RetainedFile.LoadAsync(RetainedPath, default)).Select(m => (m.Topic, Encoding.UTF8.GetString(m.Payload))));
    }

    [Fact]
    public async Task A_damaged_file_of_retained_messages_is_put_aside()
    {
        await File.WriteAllTextAsync(RetainedPath, "[{");
        await using var broker = await StartAsync(skip: false);

        Assert.Equal("[{", await File.ReadAllTextAsync(RetainedPath + ".unreadable"));
        Assert.Single(_log.Warnings, w => w.Contains("cannot be read", StringComparison.Ordinal));
    }

    [SkippableFact]
    public async Task A_clean_stop_says_offline_to_those_who_listen()
    {
        await using var broker = await StartAsync();
        broker.Link.Announce("bay1");
        var ear = await ListenAsync(broker, "laserwatch/+/status");
        await broker.StopAsync();

        await ear.HearsAsync("""laserwatch/bay1/status {"state":"offline"}""");
    }

    [SkippableFact]
    public async Task Without_the_password_nobody_comes_in_and_the_log_says_so_once()
    {
        using var password = new TemporaryFile("secret");
        var options = new ConfiguredEmbeddedBroker { Port = 0, User = "shop", Password = new Secret { File = password.Path } };
        await using var broker = await StartAsync(options);
        foreach (var wrong in new[] { "guess", "secret2" })
        {
            var intruder = Publish(broker, "laserwatch/bay1/power", "1", "-q", "1", "-i", "intruder", "-u", "shop", "-P", wrong);
            await intruder.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));
            Assert.NotEqual(0, intruder.ExitCode);
        }

        var sensor = Publish(broker, "laserwatch/bay1/power", "1", "-q", "0", "-u", "shop", "-P", "secret");
        await PublishedAsync(sensor);
        Assert.Equal("1", RunningLink.Text(await broker.NextAsync()));
        Assert.Equal(["The embedded broker refused intruder at 127.0.0.1: wrong user or password"], _log.Warnings);
    }

    [Fact]
    public void Open_to_the_network_without_a_password_it_does_not_start()
    {
        var fault = Assert.Throws<ArgumentException>(() => Link(new ConfiguredEmbeddedBroker { Address = "0.0.0.0" }));

        Assert.StartsWith(
            "embeddedBroker.address: '0.0.0.0' lets the whole network in, and no password is asked for; add 'clients', or 'user' and 'password', or listen on \"127.0.0.1\".",
            fault.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_port_in_use_is_said_with_the_mend()
    {
        await using var first = await StartAsync(skip: false);
        var port = ((EmbeddedBrokerLink)first.Link).Port;
        await using var second = new RunningLink(Link(new ConfiguredEmbeddedBroker { Port = port }));

        var fault = await Assert.ThrowsAsync<IOException>(() => second.Running);
        Assert.StartsWith($"The embedded broker cannot listen on 127.0.0.1:{port}: ", fault.Message, StringComparison.Ordinal);
    }

    public void Dispose()
    {
        foreach (var client in _clients)
        {
            if (!client.HasExited)
                client.Kill();
            client.Dispose();
        }

        Directory.Delete(_folder, recursive: true);
    }

    private string RetainedPath => Path.Combine(_folder, "retained.json");

    private EmbeddedBrokerLink Link(ConfiguredEmbeddedBroker options) => new(options, "laserwatch", RetainedPath, TimeProvider.System, _log);

    private Task<RunningLink> StartAsync(ConfiguredEmbeddedBroker? options = null, bool skip = true)
    {
        if (skip)
            Needs.MosquittoClients();
        return RunningLink.ConnectedAsync(Link(options ?? new ConfiguredEmbeddedBroker { Port = 0 }));
    }

    private Process Publish(RunningLink broker, string topic, string? payload, params string[] more)
    {
        string[] content = payload is null ? ["-l"] : ["-m", payload];
        var client = RealBroker.Start("mosquitto_pub", ["-h", "127.0.0.1", "-p", $"{((EmbeddedBrokerLink)broker.Link).Port}", "-t", topic, .. content, .. more]);
        _clients.Add(client);
        return client;
    }

    private static Task PublishedAsync(Process client) => client.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));

    private Task<Listener> ListenAsync(RunningLink broker, string filter) =>
        Listener.StartAsync(
            _clients.Add, probe => broker.Link.PublishAsync(probe, "here"u8.ToArray(), retain: true, default), ((EmbeddedBrokerLink)broker.Link).Port, filter, []);
}
