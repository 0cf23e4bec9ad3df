using LaserWatch.Configuration;
using LaserWatch.Delivery;
using LaserWatch.Fakes;
using LaserWatch.Mqtt;
using LaserWatch.Pipeline;
using LaserWatch.Storage;

namespace LaserWatch.Health;

/// <summary>The agent's condition over parts that a test can break, on a clock that it moves.</summary>
internal sealed class HealthBench : IAsyncDisposable
{
    private readonly DeliveryOutbox _delivery;

    public HealthBench(HealthOptions? options = null)
    {
        Options = options ?? new HealthOptions();
        Clock = new SteadyTime(Wall);
        Writer = new SampleWriter(Store, new SampleWriterOptions(), Wall, new LogLines<SampleWriter>());
        _delivery = new DeliveryOutbox(LaserWatchOptions.Default, TimeProvider.System, new LogLines<DeliveryOutbox>());
        Condition = new AgentCondition(Figures, Link, Writer, _delivery, Clock, Options);
        Figures.IsWatching = true;
        Beat();
    }

    public HealthOptions Options { get; }

    public SteppedTimeProvider Wall { get; } = new(DateTimeOffset.UnixEpoch.AddSeconds(1_773_043_200));

    public SteadyTime Clock { get; }

    public WatchFigures Figures { get; } = new();

    public RememberingBrokerLink Link { get; } = new();

    public FaultyTelemetryStore Store { get; } = new();

    public SampleWriter Writer { get; }

    public AgentCondition Condition { get; }

    /// <summary>The pipeline handles a tick.</summary>
    public void Beat() => Figures.Beat(Clock.GetTimestamp());

    public void Advance(double seconds) => Wall.Advance(TimeSpan.FromSeconds(seconds));

    public PartLook Look(string part) => Condition.Look().Single(look => look.Part == part);

    public void Store1() => Assert.True(Writer.TryEnqueue("bay1", new Telemetry.Sample(Telemetry.Channel.AirPressure, Clock.Now, 210)));

    public async ValueTask DisposeAsync()
    {
        await Writer.DisposeAsync();
        await _delivery.DisposeAsync();
        Figures.Dispose();
    }
}
