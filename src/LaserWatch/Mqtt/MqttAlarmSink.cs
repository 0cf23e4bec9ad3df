using LaserWatch.Alarms;

namespace LaserWatch.Mqtt;

/// <summary>The current state of each alarm, retained, on the topic of its machine and condition.</summary>
public sealed class MqttAlarmSink(IBrokerLink link, Topics topics) : IAlarmSink
{
    public string Name => "MQTT";

    public Task DeliverAsync(AlarmChange change, bool restated, CancellationToken stop) =>
        link.PublishAsync(topics.Alarm(change.Machine, change.Condition), AlarmJson.ToUtf8(change), retain: true, stop);
}
