using System.Threading.Channels;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>Turns passing time into messages, down the same queue as the sensors': so silence is judged in order.</summary>
public sealed class Ticker : IDisposable
{
    /// <summary>MQTT forbids an empty topic, and every link names its session: no sensor can send a tick.</summary>
    private const string Nowhere = "";

    private readonly TimeProvider _time;
    private readonly PeriodicTimer _timer;

    // The timer is made here, not in RunAsync: that starts on another thread, and a test's clock would run ahead of it.
    public Ticker(TimeProvider time)
    {
        _time = time;
        _timer = new PeriodicTimer(TimeSpan.FromSeconds(1), time);
    }

    public static RawMessage TickAt(Instant now) => new(Nowhere, default, now, Nowhere, 0, false, false, null);

    public static bool IsTick(in RawMessage message) => message.Topic.Length == 0 && message.Session.Length == 0;

    /// <summary>Ticks once a second. A tick that finds the queue full is left out: the next one says the same.</summary>
    public async Task RunAsync(ChannelWriter<RawMessage> inbox, CancellationToken stop)
    {
        while (await _timer.WaitForNextTickAsync(stop))
            inbox.TryWrite(TickAt(Instant.From(_time.GetUtcNow())));
    }

    public void Dispose() => _timer.Dispose();
}
