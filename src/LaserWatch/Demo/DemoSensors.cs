using System.Buffers;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>Publishes a simulated machine's samples and job events over MQTT, each sensor on its topic, at QoS 1.</summary>
/// <param name="line">Its own connection to the broker, as any sensor has one.</param>
public sealed class DemoSensors(AgentCall line, DemoScenario scenario, TimeProvider clock)
{
    /// <summary>Messages that may be under way; a slow machine falls behind the plan instead of drowning.</summary>
    private const int MostUnderWay = 200;

    private static readonly TimeSpan Ahead = TimeSpan.FromMilliseconds(15);

    private readonly Queue<Task> _underWay = new();
    private readonly ArrayBufferWriter<byte> _payload = new(256);

    public long Published { get; private set; }

    /// <summary>Publishes the whole scenario, each part at its speed; returns once the broker has taken all of it.</summary>
    /// <param name="onPart">Called as each part begins.</param>
    /// <exception cref="IOException">The broker did not take a message.</exception>
    public async Task RunAsync(Action<DemoPart> onPart, CancellationToken stop)
    {
        var part = -1;
        Instant? begun = null;
        Instant last = default;
        var begunAt = 0L;
        foreach (var moment in scenario.Moments())
        {
            while (part + 1 < scenario.Parts.Count && moment.At >= scenario.Parts[part + 1].From)
            {
                onPart(scenario.Parts[++part]);
                begun = null;
            }

            // Nights are leapt over.
            if (begun is null || moment.At - last > TimeSpan.FromMinutes(1))
            {
                begun = moment.At;
                begunAt = clock.GetTimestamp();
            }

            last = moment.At;
            var due = TimeSpan.FromSeconds(moment.At.SecondsSince(begun.Value) / scenario.Parts[part].Speed);
            var wait = due - clock.GetElapsedTime(begunAt);
            if (wait > Ahead)
                await Task.Delay(wait, clock, stop);
            await PublishAsync(moment, stop);
        }

        while (_underWay.TryDequeue(out var sent))
            await sent;
    }

    private async Task PublishAsync(SimulatedMoment moment, CancellationToken stop)
    {
        var time = Rfc3339.Format(moment.At);
        foreach (var job in moment.Jobs)
        {
            await SayAsync(
                "job",
                json =>
                {
                    json.WriteString("event", job.Kind == JobEventKind.Start ? "start" : "end");
                    if (job.Job is not null)
                        json.WriteString("job", job.Job);
                },
                time, stop);
        }

        foreach (var value in moment.Values)
            await SayAsync(value.Channel.Name, json => json.WriteNumber("value", value.Value), time, stop);
    }

    private async Task SayAsync(string what, Action<Utf8JsonWriter> write, string time, CancellationToken stop)
    {
        _payload.ResetWrittenCount();
        using (var json = new Utf8JsonWriter(_payload))
        {
            json.WriteStartObject();
            write(json);
            json.WriteString("time", time);
            json.WriteEndObject();
        }

        if (_underWay.Count == MostUnderWay)
            await _underWay.Dequeue();
        _underWay.Enqueue(line.SayAsync($"laserwatch/{DemoScenario.Machine}/{what}", _payload.WrittenSpan.ToArray(), stop));
        Published++;
    }
}
