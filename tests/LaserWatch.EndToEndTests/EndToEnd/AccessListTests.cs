using LaserWatch.Mqtt;

namespace LaserWatch.EndToEnd;

/// <summary>A real mosquitto with TLS, passwords and the access list that is shipped, and the agent as a process.</summary>
public sealed class AccessListTests
{
    private const string Alarm = "laserwatch/bay1/alarm/air-pressure-low";

    [SkippableFact]
    public async Task A_sensor_speaks_for_itself_alone_and_the_alarm_says_which_person_acknowledged_it()
    {
        await using var broker = await SecureMosquitto.StartAsync(folder => new OpensslAuthority(folder).Issue("broker", "IP:127.0.0.1"));
        using var folder = new AgentFolder();
        File.WriteAllText(folder.Config + ".secret", SecureMosquitto.PasswordOf("laserwatch") + "\n");
        File.WriteAllText(folder.Config, $$"""
            {
              "broker": {
                "host": "127.0.0.1", "port": {{broker.Port}}, "user": "laserwatch", "password": { "file": "laserwatch.json.secret" },
                "tls": { "enabled": true, "caFile": "{{broker.Folder}}/ca.pem" }
              },
              "commands": { "by": ["ana"] },
              "input": { "onlyConfiguredMachines": true },
              "machines": { "bay1": {} },
              "store": { "path": "laserwatch.db" },
              "health": { "port": 0 }
            }
            """);
        MosquittoClients As(string user) => new(broker.Port, SecureMosquitto.Login(broker, user));
        using var agent = folder.Run();
        await agent.SaysAsync("Connected to the broker");

        Assert.True(await As("bay1").MayPublishAsync("laserwatch/bay1/coolant_in", "20"));
        Assert.True(await As("bay1-air").MayPublishAsync("laserwatch/bay1/air_pressure", "210"));
        foreach (var topic in new[] { "laserwatch/bay2/air_pressure", "laserwatch/bay1/command", "laserwatch/bay1/job", "laserwatch/bay1/service", "laserwatch/bay1/status", Alarm, "laserwatch/_agent/status" })
            Assert.False(await As("bay1").MayPublishAsync(topic, "{}"), topic);
        Assert.False(await As("bay1-air").MayPublishAsync("laserwatch/bay1/coolant_in", "20"));
        Assert.False(await As("ana").MayPublishAsync(Alarm, "{}"));
        Assert.False(await As("board").MayPublishAsync("laserwatch/bay1/command", "{}"));

        await As("bay1-controller").PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        await As("bay1-air").PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(120, _ => 150));
        await As("board").RetainsAsync(Alarm, "\"state\":\"unacknowledged\"");

        Assert.Equal((3, true), await AckAsync(folder, "bay1", "refuses laserwatch/bay1/command", "--by", "ana"));
        Assert.Equal((2, true), await AckAsync(folder, "ana", "'ben' may not command alarms: commands.by names ana", "--by", "ben"));
        Assert.Equal((0, true), await AckAsync(folder, "ana", "air-pressure-low of bay1 is acknowledged"));
        await As("board").RetainsAsync(Alarm, "\"state\":\"acknowledged\"");
        await Eventually.HoldsAsync(async () => (await folder.AlarmLogAsync("air-pressure-low"))[^1].By == "ana", () => "the store says who");
    }

    /// <returns>The exit status, and whether the text was said.</returns>
    internal static async Task<(int ExitCode, bool Said)> AckAsync(AgentFolder folder, string user, string text, params string[] more)
    {
        using var call = AgentProcess.StartWith(
            new Dictionary<string, string> { ["LASERWATCH_USER"] = user, ["LASERWATCH_PASSWORD"] = SecureMosquitto.PasswordOf(user) },
            ["alarms", "ack", "bay1", "air-pressure-low", "--config", folder.Config, .. more]);
        var exitCode = await call.EndsAsync();
        await call.SaysAsync(text);
        return (exitCode, true);
    }
}
