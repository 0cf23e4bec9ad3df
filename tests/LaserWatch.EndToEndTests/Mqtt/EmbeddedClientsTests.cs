using System.Collections.Concurrent;
using System.Diagnostics;
using System.Net.Sockets;
using LaserWatch.Configuration;
using LaserWatch.EndToEnd;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Mqtt;

/// <summary>Named clients of the embedded broker, seen by mosquitto's clients.</summary>
public sealed class EmbeddedClientsTests : IDisposable
{
    private readonly LogLines<EmbeddedBrokerLink> _log = new();
    private readonly ConcurrentQueue<RawMessage> _heard = new();
    private readonly CancellationTokenSource _stop = new();
    private Task _hearing = Task.CompletedTask;
    private readonly string _folder = Directory.CreateTempSubdirectory("lw-clients").FullName;

    [SkippableFact]
    public async Task A_client_id_belongs_to_the_user_whose_session_it_is()
    {
        await using var broker = await StartAsync();
        using var sensor = Start(broker, "mosquitto_sub", "board", "-i", "display", "-t", "laserwatch/+/status");
        await RealBroker.UntilAsync(() => Link(broker).RightsOfSession("display") is not null, "the display is not there");

        Assert.False(await As(broker, "air").MayPublishAsync("laserwatch/bay1/air_pressure", "1", "-i", "display"));
        Assert.False(sensor.HasExited);
        Assert.Contains(_log.Warnings, w => w.Contains("its client id is in use by the user board", StringComparison.Ordinal));

        sensor.Kill();
        await sensor.WaitForExitAsync();
        await RealBroker.UntilAsync(() => Link(broker).RightsOfSession("display") is null, "the session stays");
        Assert.True(await As(broker, "air").MayPublishAsync("laserwatch/bay1/air_pressure", "1", "-i", "display"));
    }

    [SkippableFact]
    public async Task A_will_is_held_to_the_same_rights()
    {
        await using var broker = await StartAsync();
        foreach (var topic in new[] { "laserwatch/bay1/command", "laserwatch/bay1/status", "laserwatch/bay2/air_pressure" })
            await DieAsync(broker, topic);
        await RealBroker.UntilAsync(() => Link(broker).Refused == 3, "three wills are refused");
        Assert.Empty(_heard);

        await DieAsync(broker, "laserwatch/bay1/air_pressure");
        await RealBroker.UntilAsync(() => !_heard.IsEmpty, "no will comes");
        var will = Assert.Single(_heard);
        Assert.Equal(("laserwatch/bay1/air_pressure", "{}", "air"), (will.Topic, RunningLink.Text(will), will.Sender?.Name));
    }

    [SkippableFact]
    public async Task What_is_refused_is_counted_and_each_topic_said_once_for_each_client()
    {
        await using var broker = await StartAsync();
        for (var i = 0; i < 3; i++)
            Assert.False(await As(broker, "air").MayPublishAsync("laserwatch/bay1/command", "{}", "-i", "air"));
        Assert.False(await As(broker, "air").MaySubscribeAsync("laserwatch/#"));

        Assert.Equal(4, Link(broker).Refused);
        Assert.Equal(
            ["air (air) may not publish to laserwatch/bay1/command; refused. Its rights stand in embeddedBroker.clients"],
            _log.Warnings.Where(w => w.Contains("publish", StringComparison.Ordinal)));
        Assert.Single(_log.Warnings, w => w.EndsWith("may not subscribe to laserwatch/#; refused: it may hear nothing", StringComparison.Ordinal));
        Assert.Empty(_heard);
    }

    [SkippableFact]
    public async Task A_password_that_was_changed_counts_from_the_next_login_and_a_guesser_is_slowed_down()
    {
        await using var broker = await StartAsync();
        Assert.True(await As(broker, "air").MayPublishAsync("laserwatch/bay1/air_pressure", "1"));
        File.WriteAllText(Path.Combine(_folder, "air"), "another");
        for (var i = 0; i < GuessBrake.TriesOfName; i++)
            Assert.False(await As(broker, "air").MayPublishAsync("laserwatch/bay1/air_pressure", "1", "-i", "guesser"));

        // Even the right one now has to wait, here; others do not.
        Assert.False(await As(broker, "air", "another").MayPublishAsync("laserwatch/bay1/air_pressure", "1", "-i", "guesser"));
        Assert.Contains(_log.Warnings, w => w.Contains("too many wrong passwords", StringComparison.Ordinal));
        Assert.True(await As(broker, "controller").MayPublishAsync("laserwatch/bay1/job", "{}"));
    }

    [Fact]
    public async Task A_packet_larger_than_any_login_ends_the_connection_before_its_content_is_read()
    {
        await using var broker = await StartAsync(skip: false);
        using var client = new TcpClient();
        await client.ConnectAsync("127.0.0.1", Link(broker).Port);
        await client.GetStream().WriteAsync(new byte[] { 0x10, 0xFF, 0xFF, 0xFF, 0x7F });

        Assert.Equal(0, await ReadAsync(client));
        Assert.Equal(["The embedded broker closed a connection from 127.0.0.1: it sent a packet of more than 256 KiB"], _log.Warnings);
    }

    [Fact]
    public async Task Those_who_connect_and_say_nothing_take_no_more_than_their_share()
    {
        await using var broker = await StartAsync(skip: false);
        var silent = new List<TcpClient>();
        try
        {
            for (var i = 0; i <= SensorListener.MostWaitingOfAddress; i++)
            {
                silent.Add(new TcpClient());
                await silent[^1].ConnectAsync("127.0.0.1", Link(broker).Port);
            }

            Assert.Equal(0, await await Task.WhenAny(silent.Select(ReadAsync)));
            Assert.Equal(["The embedded broker closed a connection from 127.0.0.1: more than 32 of its connections have not said who they are"], _log.Warnings);
        }
        finally
        {
            silent.ForEach(c => c.Dispose());
        }
    }

    [Theory]
    [InlineData(new byte[0])]
    [InlineData(new byte[] { 0x10, 0x20, 0, 4 })]
    public async Task Who_does_not_say_who_he_is_in_ten_seconds_is_sent_away_however_slowly_he_begins(byte[] beginning)
    {
        var time = new FakeTimeProvider();
        await using var broker = await StartAsync(skip: false, time: time);
        using var client = new TcpClient();
        await client.ConnectAsync("127.0.0.1", Link(broker).Port);
        await client.GetStream().WriteAsync(beginning);
        var closed = ReadAsync(client);

        // The connection may not be there yet when the clock is first moved.
        await RealBroker.UntilAsync(() =>
        {
            time.Advance(SensorListener.Patience);
            return closed.IsCompleted;
        }, "it stays");
        Assert.Equal(0, await closed);
        Assert.Contains("The embedded broker closed a connection from 127.0.0.1: it did not say who it is within 10 s", _log.Warnings);
    }

    [SkippableFact]
    public async Task A_sensor_that_wants_everything_kept_is_heard_and_not_kept_for_ever()
    {
        await using var broker = await StartAsync();
        using var sensor = Start(broker, "mosquitto_pub", "anything", "-q", "0", "-r", "-t", "laserwatch/bay1/big", "-s");
        await sensor.StandardInput.WriteAsync(new string('1', 70_000));
        sensor.StandardInput.Close();
        await RealBroker.UntilAsync(() => !_heard.IsEmpty, "nothing comes");
        var message = Assert.Single(_heard);

        Assert.Equal(70_000, message.Payload.Length);
        Assert.Null(await As(broker, "reader").RetainedAsync("laserwatch/bay1/big"));
        Assert.Contains(_log.Warnings, w => w.StartsWith("Sensors want more than 2000 topics", StringComparison.Ordinal));
    }

    [SkippableFact]
    public async Task With_an_authority_for_clients_a_certificate_is_needed_beside_the_password()
    {
        var shop = new OpensslAuthority(_folder);
        shop.Issue("broker", "IP:127.0.0.1");
        shop.Issue("sensor", null);
        new OpensslAuthority(_folder, "stranger").Issue("foreign", null);
        await using var broker = await StartAsync(tls: true);
        MosquittoClients With(string? certificate) => new(
            Link(broker).Port, ["--cafile", At("ca.pem"), .. certificate is null ? Array.Empty<string>() : ["--cert", At(certificate + ".pem"), "--key", At(certificate + ".key")], "-u", "air", "-P", "air"]);

        Assert.True(await With("sensor").MayPublishAsync("laserwatch/bay1/air_pressure", "1"));
        Assert.False(await With(null).MayPublishAsync("laserwatch/bay1/air_pressure", "1"));
        Assert.False(await With("foreign").MayPublishAsync("laserwatch/bay1/air_pressure", "1"));
        Assert.False(await new MosquittoClients(Link(broker).Port, "-u", "air", "-P", "air").MayPublishAsync("laserwatch/bay1/air_pressure", "1"));
        Assert.Contains(_log.Warnings, w => w.StartsWith("The embedded broker closed a connection from 127.0.0.1: no TLS with it: ", StringComparison.Ordinal));

        // Renewed by a new authority, without a restart.
        var renewed = new OpensslAuthority(_folder);
        renewed.Issue("broker", "IP:127.0.0.1");
        renewed.Issue("sensor", null);
        Assert.True(await With("sensor").MayPublishAsync("laserwatch/bay1/air_pressure", "2"));
        Assert.Contains(_log.All, l => l.Text.StartsWith("The embedded broker's certificate was read anew", StringComparison.Ordinal));
    }

    [SkippableFact]
    public async Task Old_versions_of_TLS_are_refused()
    {
        var shop = new OpensslAuthority(_folder);
        shop.Issue("broker", "IP:127.0.0.1");
        shop.Issue("sensor", null);
        await using var broker = await StartAsync(tls: true);
        async Task<bool> SpeaksAsync(string version)
        {
            using var client = RealBroker.Start("openssl", "s_client", "-connect", $"127.0.0.1:{Link(broker).Port}", "-CAfile", At("ca.pem"), "-cert", At("sensor.pem"), "-key", At("sensor.key"), version, "-cipher", "DEFAULT:@SECLEVEL=0");
            client.StandardInput.Close();
            var said = await client.StandardOutput.ReadToEndAsync().WaitAsync(TimeSpan.FromSeconds(20));
            return said.Contains("Verify return code: 0 (ok)", StringComparison.Ordinal) && !said.Contains("Cipher is (NONE)", StringComparison.Ordinal);
        }

        Assert.True(await SpeaksAsync("-tls1_2"));
        Assert.True(await SpeaksAsync("-tls1_3"));
        Assert.False(await SpeaksAsync("-tls1_1"));
    }

    public void Dispose()
    {
        _stop.Cancel();
        _hearing.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing).GetAwaiter().GetResult();
        _stop.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    private static EmbeddedBrokerLink Link(RunningLink broker) => (EmbeddedBrokerLink)broker.Link;

    private static async Task<int> ReadAsync(TcpClient client)
    {
        try
        {
            return await client.GetStream().ReadAsync(new byte[1]).AsTask().WaitAsync(TimeSpan.FromSeconds(20));
        }
        catch (IOException)
        {
            return 0; // closed with what we sent unread
        }
    }

    private static MosquittoClients As(RunningLink broker, string user, string? password = null) => new(Link(broker).Port, "-u", user, "-P", password ?? user);

    private string At(string file) => Path.Combine(_folder, file);

    private Process Start(RunningLink broker, string program, string user, params string[] arguments) =>
        RealBroker.Start(program, ["-h", "127.0.0.1", "-p", $"{Link(broker).Port}", "-u", user, "-P", user, .. arguments]);

    private async Task DieAsync(RunningLink broker, string will)
    {
        using var sensor = Start(broker, "mosquitto_pub", "air", "-i", "dying", "-l", "-t", "laserwatch/bay1/air_pressure", "--will-topic", will, "--will-payload", "{}");
        await RealBroker.UntilAsync(() => Link(broker).RightsOfSession("dying") is not null, "the sensor is not there");
        sensor.Kill();
        await sensor.WaitForExitAsync();
        await RealBroker.UntilAsync(() => Link(broker).RightsOfSession("dying") is null, "its session stays");
    }

    private async Task<RunningLink> StartAsync(bool skip = true, bool tls = false, TimeProvider? time = null)
    {
        if (skip)
            Needs.MosquittoClients();
        Secret Own(string user)
        {
            File.WriteAllText(Path.Combine(_folder, user), user);
            return new() { File = Path.Combine(_folder, user) };
        }

        var options = new ConfiguredEmbeddedBroker
        {
            Port = 0,
            Clients =
            [
                new() { User = "air", Password = Own("air"), Machines = ["bay1"], Channels = ["air_pressure"] },
                new() { User = "controller", Password = Own("controller"), Machines = ["bay1"], MaySample = false, MayStartJobs = true },
                new() { User = "board", Password = Own("board"), MaySample = false, MayRead = ClientReading.Alarms },
                new() { User = "reader", Password = Own("reader"), MaySample = false, MayRead = ClientReading.Everything },
                new() { User = "anything", Password = Own("anything") },
            ],
            Tls = tls ? new() { CertificateFile = At("broker.pem"), KeyFile = At("broker.key"), ClientCaFile = At("ca.pem") } : null,
        };
        var running = await RunningLink.ConnectedAsync(new EmbeddedBrokerLink(options, "laserwatch", null, time ?? TimeProvider.System, _log));
        _hearing = HearAsync(running);
        return running;
    }

    /// <summary>As the agent does: takes, keeps, acknowledges.</summary>
    private async Task HearAsync(RunningLink broker)
    {
        await foreach (var message in broker.Inbox.ReadAllAsync(_stop.Token))
        {
            _heard.Enqueue(message);
            message.Acknowledge?.Invoke();
        }
    }
}
