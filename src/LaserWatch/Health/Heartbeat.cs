using System.Buffers;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Pipeline;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Health;

/// <summary>Says on MQTT at an interval that the agent judges. Whoever listens must miss it: silence is the message.</summary>
/// <remarks>
/// Not retained: a broker would hand a retained heartbeat to everybody who asks long after the agent has died, and it would look like
/// life. What is known for good stands in the retained status topics, which turn to offline by the Last Will. A stuck pipeline
/// sends none, though its connection lives.
/// </remarks>
public sealed class Heartbeat(
    AgentCondition condition, IBrokerLink link, Topics topics, SteadyTime clock, HealthOptions options, ILogger<Heartbeat> logger)
{
    private static readonly JsonWriterOptions Readable = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    private readonly Instant _since = clock.Now;
    private long _sequence;
    private long _missed;
    private bool _failing;
    private long _lastAt = long.MinValue;

    /// <summary>When the last one went out; null before the first.</summary>
    public Instant? LastAt => Volatile.Read(ref _lastAt) is var at && at == long.MinValue ? null : new(at);

    public async Task RunAsync(CancellationToken stop)
    {
        if (options.HeartbeatSeconds <= 0)
            return;
        using var timer = new PeriodicTimer(TimeSpan.FromSeconds(options.HeartbeatSeconds), clock);
        while (await timer.WaitForNextTickAsync(stop))
            await BeatAsync(stop);
    }

    internal async Task BeatAsync(CancellationToken stop)
    {
        // Why a stuck one sends none: who only looks for heartbeats must notice. That it is stuck stands on the pages.
        if (!condition.Judges || !link.IsConnected)
        {
            _missed++;
            return;
        }

        try
        {
            await link.PublishAsync(topics.AgentHeartbeat, Text(), retain: false, stop);
            Volatile.Write(ref _lastAt, clock.Now.UnixNanoseconds);
            if (_failing)
                logger.HeartbeatResumed(topics.AgentHeartbeat, _missed);
            _failing = false;
            _missed = 0;
        }
        catch (IOException fault)
        {
            _missed++;
            if (!_failing)
                logger.HeartbeatFails(topics.AgentHeartbeat, fault.Message, options.HeartbeatSeconds);
            _failing = true;
        }
    }

    private byte[] Text()
    {
        var bytes = new ArrayBufferWriter<byte>(256);
        using (var json = new Utf8JsonWriter(bytes, Readable))
        {
            var faults = condition.Faults;
            json.WriteStartObject();
            json.WriteString("time", Rfc3339.Format(clock.Now));
            json.WriteNumber("sequence", ++_sequence);
            json.WriteString("since", Rfc3339.Format(_since));
            json.WriteString("state", faults.Count == 0 ? "works" : "faulty");
            if (faults.Count > 0)
            {
                json.WriteStartArray("why");
                foreach (var fault in faults)
                    json.WriteStringValue($"{fault.Part}: {fault.Why}");
                json.WriteEndArray();
            }

            if (clock.LastJump is { } last)
                json.WriteString("clock", ClockNotes.Words(last.Jump.By, 1));
            json.WriteEndObject();
        }

        return bytes.WrittenSpan.ToArray();
    }
}
