using LaserWatch.Calibration;
using LaserWatch.Configuration;
using LaserWatch.Fakes;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

public class CalibrationLogTests
{
    private static readonly Instant Now = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    [Fact]
    public async Task What_is_in_force_is_entered_once_and_again_when_it_changes()
    {
        await using var store = new InMemoryTelemetryStore();
        await NoteAsync(store, Loop(10));
        await NoteAsync(store, Loop(10));
        await NoteAsync(store, Loop(16));
        await NoteAsync(store, Loop(16));
        var log = await store.ReadServiceEventsAsync("bay1", Instant.MinValue, Instant.MaxValue, default);

        Assert.Equal(
            [
                "coolant_flow from topic shop/bay1/flow: current-loop: valueAt4Milliamps 0, valueAt20Milliamps 10; unit L/min",
                "coolant_flow from topic shop/bay1/flow: current-loop: valueAt4Milliamps 0, valueAt20Milliamps 16; unit L/min",
            ],
            log.Select(entry => entry.Details["sensor_1"]));
        Assert.All(log, entry => Assert.Equal(("calibration", "in-force"), (entry.Part, entry.Action)));
        Assert.NotEqual(log[0].Details["hash"], log[1].Details["hash"]);
    }

    [Fact]
    public async Task A_machine_without_described_sensors_gets_an_entry_only_after_it_had_some()
    {
        await using var store = new InMemoryTelemetryStore();
        await NoteAsync(store, new MachineOptions());
        Assert.Empty(await store.ReadServiceEventsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));

        await NoteAsync(store, Loop(10));
        await NoteAsync(store, new MachineOptions());
        await NoteAsync(store, new MachineOptions());
        Assert.Equal(2, (await store.ReadServiceEventsAsync("bay1", Instant.MinValue, Instant.MaxValue, default)).Count);
    }

    private static async Task NoteAsync(InMemoryTelemetryStore store, MachineOptions machine)
    {
        var options = LaserWatchOptions.Default with { Machines = new Dictionary<string, MachineOptions> { ["bay1"] = machine } };
        var batch = new StoreBatch();
        batch.ServiceEvents.AddRange(await CalibrationLog.MissingAsync(store, options, Now, default));
        await store.AppendAsync(batch, default);
    }

    private static MachineOptions Loop(double full) => new()
    {
        Sensors = [new SensorOptions { Topic = "shop/bay1/flow", Channel = "coolant_flow", Unit = "L/min", Calibration = [new CurrentLoopStep { ValueAt4Milliamps = 0, ValueAt20Milliamps = full }] }],
    };
}
