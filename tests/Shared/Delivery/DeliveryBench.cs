using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.Mqtt;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Delivery;

/// <summary>An outbox with a fake clock and a folder of its own; restarted as often as wanted.</summary>
internal sealed class DeliveryBench : IAsyncDisposable
{
    public static readonly DateTimeOffset Start = new(2026, 3, 9, 8, 0, 0, TimeSpan.Zero);

    private readonly TemporaryFolder _folder = new();
    private DeliveryOutbox? _outbox;

    public FakeTimeProvider Time { get; } = new(Start);

    public InMemoryTelemetryStore Store { get; } = new();

    public LogLines<DeliveryOutbox> Log { get; private set; } = new();

    public DeliveryOptions Options { get; init; } = new();

    public FloodOptions Flood { get; init; } = new();

    /// <summary>What the outbox gives its messages to; none: those that the options name.</summary>
    public IReadOnlyList<IOutlet>? Outlets { get; init; }

    public string Path => _folder.File("laserwatch.outbox.db");

    public DeliveryOutbox Outbox => _outbox!;

    public Instant Now => Instant.From(Time.GetUtcNow());

    public async Task<DeliveryBench> StartAsync()
    {
        Log = new();
        _outbox = new DeliveryOutbox(Options, Flood, Path, Outlets ?? Delivery.Outlets.Make(Options, "laserwatch", Time), Time, seed: 1, Log);
        await _outbox.StartAsync(Store, CancellationToken.None);
        return this;
    }

    /// <summary>An orderly stop, and another process.</summary>
    public async Task RestartAsync()
    {
        await StopAsync();
        await StartAsync();
    }

    public async Task StopAsync()
    {
        Assert.True(await _outbox!.CompleteAsync(TimeSpan.FromSeconds(10)));
        await _outbox.DisposeAsync();
    }

    public AlarmChange Change(
        string condition = Conditions.CoolantHot, AlarmState state = AlarmState.Unacknowledged, AlarmPriority priority = AlarmPriority.High,
        string machine = "bay1", double seconds = 0, string? by = null) => new(
            Now + TimeSpan.FromSeconds(seconds), machine, condition, state, priority, 31.2, 30, "°C", "birch-6-cut", "coolant is hot",
            [new Evidence("since", "08:00")], ["Look at the chiller."], by);

    public AlarmChange Post(
        string condition = Conditions.CoolantHot, AlarmState state = AlarmState.Unacknowledged, AlarmPriority priority = AlarmPriority.High, string machine = "bay1")
    {
        var change = Change(condition, state, priority, machine);
        Assert.True(Outbox.Post(change));
        return change;
    }

    /// <summary>Turns the clock, step by step, until something holds: waits may begin a little after what they follow.</summary>
    public Task LaterAsync(Func<bool> holds, string what, double seconds = 1) => RealBroker.UntilAsync(
        () =>
        {
            if (holds())
                return true;
            Time.Advance(TimeSpan.FromSeconds(seconds));
            return false;
        },
        what);

    public async ValueTask DisposeAsync()
    {
        if (_outbox is not null)
            await _outbox.DisposeAsync();
        await Store.DisposeAsync();
        _folder.Dispose();
    }
}
