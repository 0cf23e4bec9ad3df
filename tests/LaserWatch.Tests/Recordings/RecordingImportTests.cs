using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Demo;
using LaserWatch.Fakes;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public sealed class RecordingImportTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task A_recording_from_one_store_played_into_another_comes_out_the_same_to_the_byte()
    {
        await using var first = SqliteTelemetryStore.Open(new StoreOptions { Path = Path.Combine(_folder, "a.db") });
        await PlayAsync(Demo(), first);
        var recording = await RecordAsync(first);
        Assert.Contains("alarm,machine=bay1,condition=air-pressure-low", Encoding.UTF8.GetString(recording), StringComparison.Ordinal);

        await using var second = new InMemoryTelemetryStore();
        await PlayAsync(recording, second);
        await using var third = SqliteTelemetryStore.Open(new StoreOptions { Path = Path.Combine(_folder, "b.db") });
        await PlayAsync(await RecordAsync(second), third);

        Assert.Equal(recording, await RecordAsync(second));
        Assert.Equal(recording, await RecordAsync(third));
    }

    [Fact]
    public async Task Alarms_of_the_recording_are_kept_as_they_were_with_who_acknowledged_them()
    {
        await using var store = new InMemoryTelemetryStore();
        var told = """
            alarm,machine=bay1,condition=coolant-hot state="acknowledged",priority="high",value=31,limit=30,unit="°C",by="ana" 1773014400000000000

            """;

        await PlayAsync([.. Demo(), .. Encoding.UTF8.GetBytes(told)], store);

        var alarm = Assert.Single(await store.ReadAlarmChangesAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Equal(("coolant-hot", AlarmState.Acknowledged, "ana"), (alarm.Condition, alarm.State, alarm.By));
    }

    [Fact]
    public async Task Runs_that_the_recording_holds_as_worked_out_are_not_kept_twice()
    {
        await using var first = new InMemoryTelemetryStore();
        await PlayAsync(Demo(announced: false), first);
        var runs = await first.ReadJobRunsAsync("bay1", Instant.MinValue, Instant.MaxValue, default);
        Assert.NotEmpty(runs);
        Assert.All(runs, run => Assert.True(run.Inferred));

        await using var second = new InMemoryTelemetryStore();
        await PlayAsync(await RecordAsync(first), second);

        Assert.Equal(runs, await second.ReadJobRunsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
    }

    [Fact]
    public async Task A_store_that_has_the_time_already_refuses_it_and_keeps_what_it_has()
    {
        await using var store = new InMemoryTelemetryStore();
        await PlayAsync(Demo(), store);
        var before = await RecordAsync(store);

        var fault = await Assert.ThrowsAsync<StoreException>(() => PlayAsync(Demo(), store));

        Assert.Contains("the store has bay1 up to", fault.Message, StringComparison.Ordinal);
        Assert.Equal(before, await RecordAsync(store));
    }

    private static async Task PlayAsync(byte[] recording, ITelemetryStore store)
    {
        using var reader = new RecordingReader(new MemoryStream(recording), new ChannelTable());
        var import = new RecordingImport(store);
        await new Replay(reader, new Shop(_ => MonitorOptions.Default, new JobBook()), _ => { }) { Import = import }.RunAsync(null, null, default);
        await import.CompleteAsync(default);
    }

    private static async Task<byte[]> RecordAsync(ITelemetryStore store)
    {
        using var bytes = new MemoryStream();
        await RecordingWriter.WriteAsync(store, "bay1", Instant.MinValue, Instant.MaxValue, bytes, default);
        return bytes.ToArray();
    }

    private static byte[] Demo(bool announced = true)
    {
        var scenario = new DemoScenario(Instant.From(new DateTimeOffset(2026, 3, 9, 17, 0, 0, TimeSpan.Zero)));
        var shift = scenario.Shifts[0];
        shift = shift with { Runs = [.. shift.Runs.Take(3).Select(run => run with { Announced = announced })], Off = shift.On + TimeSpan.FromMinutes(12) };
        using var bytes = new MemoryStream();
        SimulatedRecording.Write(bytes, "bay1", scenario.Jobs, new SimulatedMachine(scenario.MachineOptions).Run([shift]));
        return bytes.ToArray();
    }
}
