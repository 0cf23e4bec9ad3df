using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Mqtt;

public class MqttAlarmSinkTests
{
    private readonly LogLines<MqttClientLink> _log = new();

    [SkippableFact]
    public async Task What_was_raised_while_the_broker_was_away_goes_out_when_it_is_back_and_the_newest_state_is_retained()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var line = new CutLine(broker.Port);
        var ear = await broker.ListenAsync("laserwatch/bay1/alarm/#");
        await using var link = await RunningLink.ConnectedAsync(new MqttClientLink(
            new ConfiguredBroker { Host = "127.0.0.1", Port = line.Port }, ["laserwatch/+/+"], "bay1", TimeProvider.System, seed: 1, _log));
        await using var outbox = new AlarmOutbox(
            new MqttAlarmSink(link.Link, new Topics("laserwatch")), TimeProvider.System, new LogLines<AlarmOutbox>());
        line.Cut();
        await RealBroker.UntilAsync(() => !link.Link.IsConnected, "the link has not noticed");
        var raised = Change(AlarmState.Unacknowledged);
        var acknowledged = Change(AlarmState.Acknowledged);
        outbox.Post(raised);
        outbox.Post(acknowledged);
        line.Mend();

        await ear.HearsAsync("laserwatch/bay1/alarm/coolant-hot " + Text(acknowledged));
        Assert.Equal(
            ["laserwatch/bay1/alarm/coolant-hot " + Text(raised), "laserwatch/bay1/alarm/coolant-hot " + Text(acknowledged)], ear.Lines);
        var later = await broker.ListenAsync("laserwatch/bay1/alarm/#");
        await later.HearsAsync("laserwatch/bay1/alarm/coolant-hot " + Text(acknowledged));
        Assert.Single(later.Lines);
    }

    private static string Text(AlarmChange change) => System.Text.Encoding.UTF8.GetString(AlarmJson.ToUtf8(change));

    private static AlarmChange Change(AlarmState state) => new(
        new Instant(1773041460000000000), "bay1", Conditions.CoolantHot, state, AlarmPriority.High, 31, 28, "°C", null, "Coolant 31 °C", [], ["Look at the chiller"]);
}
