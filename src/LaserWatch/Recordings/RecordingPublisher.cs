using System.Buffers;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Publishes what a recording holds, as its sensors and people did: in order, at QoS 1, nothing retained.</summary>
/// <remarks>Job records and alarms have no topics of their own and are left out; so are runs that were worked out.</remarks>
/// <param name="root">The first levels of every topic.</param>
public sealed class RecordingPublisher(AgentCall line, string root)
{
    private const int MostUnderWay = 200;

    private readonly Queue<Task> _underWay = new();
    private readonly ArrayBufferWriter<byte> _payload = new(256);

    public long Published { get; private set; }

    /// <summary>Annotations have none: what was the matter is what a trainee is to find out, and their spans are of the recording's own time.</summary>
    public static bool HasTopic(RecordingEvent e) =>
        e.Kind is not (RecordingEventKind.JobRecord or RecordingEventKind.Alarm) && e.JobRun is not { Inferred: true }
        && !(e.Service is { } service && Annotation.IsOne(service));

    /// <param name="time">The time that the message bears.</param>
    /// <exception cref="IOException">The broker did not take an earlier message.</exception>
    public async Task PublishAsync(RecordingEvent e, Instant time, CancellationToken stop)
    {
        if (e.JobRun is { } run)
        {
            await PublishAsync(run, time, stop);
        }
        else if (e.Service is { } service)
        {
            await PublishAsync(service, time, stop);
        }
        else
        {
            for (var i = 0; i < e.Values.Length; i++)
                await PublishAsync(e.Machine, e.Values[i], time, stop);
        }
    }

    /// <inheritdoc cref="PublishAsync(RecordingEvent, Instant, CancellationToken)"/>
    public Task PublishAsync(string machine, ChannelValue value, Instant time, CancellationToken stop) =>
        SayAsync(machine, value.Channel.Name, time, json => json.WriteNumber("value", value.Value), stop);

    /// <inheritdoc cref="PublishAsync(RecordingEvent, Instant, CancellationToken)"/>
    public Task PublishAsync(JobEvent run, Instant time, CancellationToken stop) =>
        SayAsync(run.Machine, "job", time, json =>
        {
            json.WriteString("event", run.Kind == JobEventKind.Start ? "start" : "end");
            WriteText(json, "job", run.Job);
        }, stop);

    /// <inheritdoc cref="PublishAsync(RecordingEvent, Instant, CancellationToken)"/>
    public Task PublishAsync(ServiceEvent service, Instant time, CancellationToken stop) =>
        SayAsync(service.Machine, "service", time, json =>
        {
            json.WriteString("part", service.Part);
            json.WriteString("action", service.Action);
            WriteText(json, "serial", service.Serial);
            WriteText(json, "note", service.Note);
            foreach (var (key, value) in service.Details)
            {
                if (key != "time")
                    json.WriteString(key, value);
            }
        }, stop);

    /// <summary>Returns once the broker has taken all of it.</summary>
    /// <exception cref="IOException">It did not take a message.</exception>
    public async Task FinishAsync()
    {
        while (_underWay.TryDequeue(out var sent))
            await sent;
    }

    private async Task SayAsync(string machine, string what, Instant time, Action<Utf8JsonWriter> write, CancellationToken stop)
    {
        _payload.ResetWrittenCount();
        using (var json = new Utf8JsonWriter(_payload))
        {
            json.WriteStartObject();
            write(json);
            json.WriteString("time", Rfc3339.Format(time));
            json.WriteEndObject();
        }

        // What the broker did not take is known at once, not when the queue is full.
        while (_underWay.TryPeek(out var oldest) && oldest.IsCompleted)
            await _underWay.Dequeue();

        // Bounded, so that a slow broker slows the replay and not the memory.
        if (_underWay.Count == MostUnderWay)
            await _underWay.Dequeue();
        _underWay.Enqueue(line.SayAsync($"{root}/{machine}/{what}", _payload.WrittenSpan.ToArray(), stop));
        Published++;
    }

    private static void WriteText(Utf8JsonWriter json, string name, string? text)
    {
        if (text is not null)
            json.WriteString(name, text);
    }
}
