using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Quantities;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;
using Xunit.Abstractions;

namespace LaserWatch.Demo;

/// <summary>Not beside other tests: it looks at the memory of the whole process.</summary>
[Collection(Alone.Name)]
public class HealthyYearTests(ITestOutputHelper output)
{
    private static readonly Instant NewYear = Instant.From(new DateTimeOffset(2026, 1, 1, 0, 0, 0, TimeSpan.Zero));

    private static readonly JobRecord[] Jobs =
    [
        new("birch-6-cut", NewYear, "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2)),
        new("acrylic-3-cut", NewYear, "acrylic 3 mm", new PowerPercent(48), 15, new Kilopascals(60), new Milliamps(14)),
        new("slate-photo", NewYear, "slate", new PowerPercent(32), 300, new Kilopascals(60), null, CutMode.Raster),
    ];

    private static Stream Year(int days) => SimulatedRecording.Open(
        "bay1", Jobs,
        new SimulatedMachine(new SimulatedMachineOptions
        {
            Step = TimeSpan.FromSeconds(10),
            FastInterval = TimeSpan.FromSeconds(10),
            SlowInterval = TimeSpan.FromSeconds(10),
        }).Run(WorkPlan.Weekdays(3, NewYear, days, Jobs)));

    [Fact]
    public async Task A_sound_year_raises_no_alarm_above_low_and_memory_stays_flat()
    {
        List<AlarmChange> above = [];
        using var reader = new RecordingReader(Year(365), new ChannelTable());
        var replay = new Replay(reader, new Shop(_ => MonitorOptions.Default, new JobBook()), change =>
        {
            if (change.Priority > AlarmPriority.Low && change.State == AlarmState.Unacknowledged)
                above.Add(change);
        });

        // Progress comes every few thousand lines, so this looks at the memory over all the year.
        List<long> held = [];
        var calls = 0;
        await replay.RunAsync(
            null, () =>
            {
                if (calls++ % 16 == 0)
                    held.Add(GC.GetTotalMemory(forceFullCollection: true));
            },
            CancellationToken.None);

        foreach (var group in above.GroupBy(change => change.Condition))
            output.WriteLine($"{group.Count()} {group.Key}; first {System.Text.Encoding.UTF8.GetString(AlarmJson.ToUtf8(group.First()))}");
        output.WriteLine($"{replay.Counts.Samples} samples, {replay.Counts.JobRuns} job events, held {string.Join(' ', held)}");

        Assert.Empty(above);
        Assert.InRange(replay.Counts.Samples, 6_000_000, 8_000_000);
        Assert.True(held.Count > 10);
        Assert.InRange(held[^1] - held[2], long.MinValue, 1_000_000);
    }
}
