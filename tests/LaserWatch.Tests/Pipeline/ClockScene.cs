using System.Globalization;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.Mqtt;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>A run with faults of which each alarm is known, through the real pipeline, on a clock that somebody sets meanwhile.</summary>
/// <remarks>
/// Air low from second 60 to 80; a dip at 200 that is too short to matter; the coolant sensor dead from 240. Stamps and ticks are taken
/// from the steady time, as the links and the ticker do.
/// </remarks>
internal sealed class ClockScene : IAsyncDisposable
{
    public const int Seconds = 330;

    private readonly SteppedTimeProvider _wall;
    private readonly SteadyTime _steady;
    private readonly bool _ownClock;
    private int _halves;

    /// <param name="ownClock">True: the sensors tell their own time, which nobody sets.</param>
    public ClockScene(Instant? start = null, bool ownClock = false, FaultyTelemetryStore? store = null)
    {
        Start = start ?? PipelineBench.Start;
        _wall = new SteppedTimeProvider(Start.ToDateTimeOffset());
        _steady = new SteadyTime(_wall);
        _ownClock = ownClock;
        Bench = new PipelineBench(store, clock: _steady);
    }

    public Instant Start { get; }

    public PipelineBench Bench { get; }

    /// <summary>Plays it all, with steps of the clock (in seconds) at their moments, and gives the alarms.</summary>
    public async Task<IReadOnlyList<AlarmChange>> PlayAsync(params (int Second, double By)[] steps)
    {
        await PlayAsync(Seconds, steps);
        await Bench.SettleAsync();
        return Bench.Announced;
    }

    /// <summary>Plays on until a second.</summary>
    public async Task PlayAsync(int until, params (int Second, double By)[] steps)
    {
        for (; _halves < 2 * until; _halves++)
        {
            var second = _halves / 2.0;
            if (_halves == 0)
                Send("job", """{"event":"start","job":"birch-6-cut"}""");
            if (_halves % 10 == 0)
                Send("lasing", Value(1, second));
            Send("air_pressure", Value((second is >= 60 and < 80 or >= 200 and < 201.5 ? 150 : 210) + (_halves % 2), second));
            if (_halves % 2 == 0 && second < 240)
                Send("coolant_in", Value(20 + (_halves % 4 * 0.1), second));
            _wall.Advance(TimeSpan.FromSeconds(0.5));
            if (_halves % 2 == 0)
                continue;
            foreach (var (_, by) in steps.Where(step => step.Second == _halves / 2))
                _wall.Step(TimeSpan.FromSeconds(by));
            await TickAsync();
        }
    }

    public void Send(string what, string payload) => Bench.Send(
        new RawMessage("laserwatch/bay1/" + what, Encoding.UTF8.GetBytes(payload), Instant.From(_steady.GetUtcNow()), "agent", 0, false, false, null));

    public async Task<IReadOnlyList<Gap>> GapsAsync() =>
        await Bench.Store.ReadGapsAsync("bay1", Instant.MinValue, Instant.MaxValue, CancellationToken.None);

    public ValueTask DisposeAsync() => Bench.DisposeAsync();

    // In step with the pipeline: what it sees of the clock must be what it is at this tick.
    private async Task TickAsync()
    {
        var beats = Bench.Figures.Beats;
        Bench.Send(Ticker.TickAt(Instant.From(_steady.GetUtcNow())));
        var began = TimeProvider.System.GetTimestamp();
        for (var i = 0; Bench.Figures.Beats == beats; i++)
        {
            if (TimeProvider.System.GetElapsedTime(began) > TimeSpan.FromSeconds(60))
                throw new TimeoutException("The pipeline does not take the tick.");
            if (i < 100)
                await Task.Yield();
            else
                await Task.Delay(1);
        }
    }

    private string Value(double value, double second) => _ownClock
        ? string.Create(CultureInfo.InvariantCulture, $$"""{"value": {{value}}, "time": {{(Start.UnixNanoseconds / 1e9) + second}}}""")
        : value.ToString(CultureInfo.InvariantCulture);
}
