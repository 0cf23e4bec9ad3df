using System.Buffers;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Publishes a recording to a broker, as its sensors and people did, below a prefix that keeps it from the live topics.</summary>
/// <remarks>
/// Without a pace the messages carry the recording's own times; at a pace they carry none, so that the time of arrival counts.
/// Job records and alarms have no topics of their own and are left out; so are runs that were worked out.
/// </remarks>
public sealed class RecordingPublisher(RecordingReader reader, AgentCall line, string prefix, ReplayPace? pace)
{
    private const int MostUnderWay = 200;

    private readonly Queue<Task> _underWay = new();
    private readonly ArrayBufferWriter<byte> _payload = new(256);

    public long Published { get; private set; }

    /// <summary>Publishes to the end; returns once the broker has taken all of it.</summary>
    /// <exception cref="IOException">The broker did not take a message, or the recording cannot be read on.</exception>
    /// <exception cref="InvalidDataException">The recording's compression is damaged.</exception>
    public async Task RunAsync(Action? onProgress, CancellationToken stop)
    {
        while (reader.Read() is { } e)
        {
            if (e.Kind is RecordingEventKind.JobRecord or RecordingEventKind.Alarm || e.JobRun is { Inferred: true })
                continue;
            if (pace is not null)
                await pace.WaitUntilAsync(e.At, _ => { }, onProgress, stop);
            await PublishAsync(e, stop);
            onProgress?.Invoke();
        }

        while (_underWay.TryDequeue(out var sent))
            await sent;
    }

    private async Task PublishAsync(RecordingEvent e, CancellationToken stop)
    {
        var time = pace is null ? Rfc3339.Format(e.At) : null;
        if (e.JobRun is { } run)
        {
            await SayAsync(e.Machine, "job", time, json =>
            {
                json.WriteString("event", run.Kind == JobEventKind.Start ? "start" : "end");
                WriteText(json, "job", run.Job);
            }, stop);
        }
        else if (e.Service is { } service)
        {
            await SayAsync(e.Machine, "service", time, json =>
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
        }
        else
        {
            for (var i = 0; i < e.Values.Length; i++)
            {
                var value = e.Values[i];
                await SayAsync(e.Machine, value.Channel.Name, time, json => json.WriteNumber("value", value.Value), stop);
            }
        }
    }

    private async Task SayAsync(string machine, string what, string? time, Action<Utf8JsonWriter> write, CancellationToken stop)
    {
        _payload.ResetWrittenCount();
        using (var json = new Utf8JsonWriter(_payload))
        {
            json.WriteStartObject();
            write(json);
            WriteText(json, "time", time);
            json.WriteEndObject();
        }

        // Bounded, so that a slow broker slows the replay and not the memory.
        if (_underWay.Count == MostUnderWay)
            await _underWay.Dequeue();
        _underWay.Enqueue(line.SayAsync($"{prefix}/laserwatch/{machine}/{what}", _payload.WrittenSpan.ToArray(), stop));
        Published++;
    }

    private static void WriteText(Utf8JsonWriter json, string name, string? text)
    {
        if (text is not null)
            json.WriteString(name, text);
    }
}
