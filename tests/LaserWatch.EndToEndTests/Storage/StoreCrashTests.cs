using LaserWatch.Storage.Sqlite;
using LaserWatch.StoreWriter;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

public sealed class StoreCrashTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(1, 12, 500)]
    [InlineData(30, 8, 300)]
    public async Task A_writer_killed_at_any_moment_loses_no_batch_it_had_reported_and_leaves_none_in_part(int machines, int rounds, int enoughBatches)
    {
        var path = _folder.File("store.db");
        var moments = new Random(20260309);
        long next = 0;

        for (var round = 0; round < rounds; round++)
        {
            var reported = next - 1;
            using (var writer = new StoreWriterProcess(path, next, keepDays: 5, machines))
            {
                for (var lines = moments.Next(1, 150); lines > 0; lines--)
                    reported = await writer.ReadReportAsync() ?? throw new InvalidOperationException("The writer ended by itself.");
                reported = await writer.KillAsync() ?? reported;
            }

            // Opened for reading first: no writer must be needed to mend anything.
            long last;
            await using (var reader = SqliteTelemetryStore.OpenForReading(path))
                last = await AssertWholeAsync(reader, path, machines);
            await using (var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path }))
                Assert.Equal(last, await AssertWholeAsync(store, path, machines));

            Assert.True(last >= reported, $"Batch {reported} was reported in round {round}, but the newest kept is {last}.");
            next = last + 1;
        }

        Assert.True(next > enoughBatches, $"Only {next} batches came to be: too few for deletion by age.");
    }

    /// <summary>Every batch from 0 on is there whole; the number of the last.</summary>
    private static async Task<long> AssertWholeAsync(SqliteTelemetryStore store, string path, int machines)
    {
        using (var connection = new SqliteConnection($"Data Source={path};Pooling=False"))
        {
            connection.Open();
            using var check = connection.CreateCommand();
            check.CommandText = "PRAGMA integrity_check";
            Assert.Equal("ok", check.ExecuteScalar());
        }

        var last = await AssertWholeAsync(store, NumberedBatch.Machine);
        for (var machine = 1; machine < machines; machine += 9)
            Assert.Equal(last, await AssertWholeAsync(store, NumberedBatch.NameOf(machine)));

        var alarmed = await store.ReadAlarmChangesAsync(null, Instant.MinValue, Instant.MaxValue, default);
        var batch = new StoreBatch();
        var alarms = new List<double?>();
        for (var number = 0; number <= last; number++)
        {
            NumberedBatch.Fill(batch, number);
            alarms.AddRange(batch.AlarmChanges.Select(change => change.Value));
        }

        Assert.Equal(alarms, alarmed.Select(change => change.Value));
        Assert.True(await store.WasDeliveredAsync(NumberedBatch.DeliveryOf(last), default));
        Assert.False(await store.WasDeliveredAsync(NumberedBatch.DeliveryOf(last + 1), default));
        return last;
    }

    /// <summary>The number of the last batch that the machine has samples of.</summary>
    private static async Task<long> AssertWholeAsync(SqliteTelemetryStore store, string machine)
    {
        var samples = await store.ReadSamplesAsync(machine, null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync();
        long all = 0;
        foreach (var channel in new[] { Channel.TubeCurrent, Channel.AirPressure })
        {
            // What was deleted by age lives on in them.
            var minutes = await store.ReadRollUpsAsync(machine, channel, RollUpSpan.Minute, Instant.MinValue, Instant.MaxValue, default).ToListAsync();
            var count = minutes.Sum(minute => minute.Count);
            Assert.Equal(0, count % (NumberedBatch.Samples / 2));
            all += count;
        }

        Assert.Equal(0, all % NumberedBatch.Samples);
        var last = (all / NumberedBatch.Samples) - 1;
        var batch = new StoreBatch();
        var expected = new List<Sample>();
        for (var number = 0; number <= last; number++)
        {
            NumberedBatch.Fill(batch, number);
            expected.AddRange(batch.Samples.Select(entry => entry.Sample));
        }

        // Each channel is deleted by whole hours, and in a step of its own.
        var from = samples.GroupBy(sample => sample.Channel).ToDictionary(
            group => group.Key, group => TimeGrid.FirstOfHour(TimeGrid.HourOf(group.First().At)));
        Assert.Equal(expected.Where(sample => sample.At.UnixNanoseconds >= from[sample.Channel]).OrderBy(sample => sample.At), samples);
        var kept = (await store.ReadExtentAsync(machine, default))!.Value;
        Assert.Equal(new SampleExtent(samples[0].At, samples[^1].At, samples.Count), kept);
        return last;
    }
}
