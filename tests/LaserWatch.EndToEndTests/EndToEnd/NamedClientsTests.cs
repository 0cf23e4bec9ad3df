using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

/// <summary>The agent as its own broker, with TLS and named clients, towards mosquitto's clients.</summary>
public sealed class NamedClientsTests
{
    private const string Alarm = "laserwatch/bay1/alarm/air-pressure-low";

    [SkippableFact]
    public async Task A_sensor_speaks_for_itself_alone_and_by_is_who_logged_in()
    {
        Needs.MosquittoClients();
        var port = RealBroker.FreePort();
        using var folder = new AgentFolder();
        var place = Path.GetDirectoryName(folder.Config)!;
        var shop = new OpensslAuthority(place);
        shop.Issue("broker", "IP:127.0.0.1");
        foreach (var user in new[] { "air", "controller", "board" })
            File.WriteAllText(Path.Combine(place, user + ".secret"), SecureMosquitto.PasswordOf(user));
        var (_, hash, _) = await HashAsync(SecureMosquitto.PasswordOf("ana"));
        File.WriteAllText(folder.Config, $$"""
            {
              "embeddedBroker": {
                "port": {{port}},
                "tls": { "certificateFile": "broker.pem", "keyFile": "broker.key" },
                "clients": [
                  { "user": "air", "password": { "file": "air.secret" }, "machines": ["bay1"], "channels": ["air_pressure"] },
                  { "user": "controller", "password": { "file": "controller.secret" }, "machines": ["bay1"], "channels": ["power", "lasing"], "mayStartJobs": true },
                  { "user": "ana", "passwordHash": "{{hash.Trim()}}", "maySample": false, "mayCommand": true },
                  { "user": "board", "password": { "file": "board.secret" }, "maySample": false, "mayRead": "alarms" }
                ]
              },
              "machines": { "bay1": { "sensors": [{ "topic": "shop/air", "channel": "air_pressure", "value": "/kPa" }] } },
              "store": { "path": "laserwatch.db" },
              "health": { "port": 0 }
            }
            """);
        MosquittoClients As(string user) => new(port, "--cafile", Path.Combine(place, "ca.pem"), "-u", user, "-P", SecureMosquitto.PasswordOf(user));
        Assert.Contains(": good, until ", (await AgentProcess.RunAsync("check", "--offline", "--config", folder.Config)).Out, StringComparison.Ordinal);
        using var agent = folder.Run();
        await agent.SaysAsync("The embedded broker listens");

        Assert.True(await As("air").MayPublishAsync("shop/air", """{"kPa": 210}"""));
        foreach (var topic in new[] { "laserwatch/bay1/coolant_in", "laserwatch/bay2/air_pressure", "laserwatch/bay1/command", "laserwatch/bay1/job", "laserwatch/bay1/status", Alarm, "elsewhere" })
            Assert.False(await As("air").MayPublishAsync(topic, "{}"), topic);
        Assert.False(await As("ana").MayPublishAsync("laserwatch/bay1/air_pressure", "210"));
        Assert.False(await As("air").MaySubscribeAsync("#"));
        Assert.True(await As("board").MaySubscribeAsync("laserwatch/+/alarm/+"));

        await As("controller").PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        await As("air").PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(120, _ => 150));
        await As("board").RetainsAsync(Alarm, "\"state\":\"unacknowledged\"");
        await As("air").PublishAsync("laserwatch/bay1/air_pressure", """[{"n":"coolant_in","u":"Cel","v":99}]""");

        Assert.Equal((3, true), await AccessListTests.AckAsync(folder, "air", "refuses the subscription", "--by", "ana"));
        Assert.Equal((0, true), await AccessListTests.AckAsync(folder, "ana", "is acknowledged", "--by", "ben"));
        await Eventually.HoldsAsync(async () => (await folder.AlarmLogAsync("air-pressure-low"))[^1].By == "ana (claims: ben)", () => "the store says who");
        await agent.SaysAsync("not_authorized (air may not publish every channel in it)");
        Assert.Empty(await folder.SamplesAsync(Channel.CoolantIn));
        await agent.SaysAsync("may not publish to laserwatch/bay2/air_pressure; refused");
    }

    private static async Task<(int ExitCode, string Out, string Error)> HashAsync(string password)
    {
        using var input = new StringReader(password + "\n");
        var (output, error) = (new StringWriter(), new StringWriter());
        return (await Cli.PasswordCommand.RunAsync(input, output, error, CancellationToken.None), output.ToString(), error.ToString());
    }
}
