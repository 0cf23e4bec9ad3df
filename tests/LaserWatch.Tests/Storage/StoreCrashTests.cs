using LaserWatch.Storage.Sqlite;
using LaserWatch.StoreWriter;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

public sealed class StoreCrashTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task A_writer_killed_at_any_moment_loses_no_batch_it_had_reported_and_leaves_none_in_part()
    {
        var path = _folder.File("store.db");
        var moments = new Random(20260309);
        long next = 0;

        for (var round = 0; round < 8; round++)
        {
            var reported = next - 1;
            using (var writer = new StoreWriterProcess(path, next))
            {
                for (var lines = moments.Next(1, 150); lines > 0; lines--)
                    reported = await writer.ReadReportAsync() ?? throw new InvalidOperationException("The writer ended by itself.");
                reported = await writer.KillAsync() ?? reported;
            }

            // Opened for reading first: no writer must be needed to mend anything.
            long last;
            await using (var reader = SqliteTelemetryStore.OpenForReading(path))
                last = await AssertWholeAsync(reader, path);
            await using (var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path }))
                Assert.Equal(last, await AssertWholeAsync(store, path));

            Assert.True(last >= reported, $"Batch {reported} was reported in round {round}, but the newest kept is {last}.");
            next = last + 1;
        }
    }

    /// <summary>Every batch from 0 on is there whole; the number of the last.</summary>
    private static async Task<long> AssertWholeAsync(SqliteTelemetryStore store, string path)
    {
        using (var connection = new SqliteConnection($"Data Source={path};Pooling=False"))
        {
            connection.Open();
            using var check = connection.CreateCommand();
            check.CommandText = "PRAGMA integrity_check";
            Assert.Equal("ok", check.ExecuteScalar());
        }

        var samples = await store.ReadSamplesAsync(NumberedBatch.Machine, null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync();
        var last = (samples.Count / NumberedBatch.Samples) - 1;
        var batch = new StoreBatch();
        var expected = new List<Sample>();
        var alarms = new List<double?>();
        for (var number = 0; number <= last; number++)
        {
            NumberedBatch.Fill(batch, number);
            expected.AddRange(batch.Samples.Select(entry => entry.Sample));
            alarms.AddRange(batch.AlarmChanges.Select(change => change.Value));
        }

        Assert.Equal(expected, samples);
        Assert.Equal(alarms, (await store.ReadAlarmChangesAsync(null, Instant.MinValue, Instant.MaxValue, default)).Select(change => change.Value));
        Assert.True(await store.WasDeliveredAsync(NumberedBatch.DeliveryOf(last), default));
        Assert.False(await store.WasDeliveredAsync(NumberedBatch.DeliveryOf(last + 1), default));
        foreach (var channel in new[] { Channel.TubeCurrent, Channel.AirPressure })
        {
            var minutes = await store.ReadRollUpsAsync(NumberedBatch.Machine, channel, RollUpSpan.Minute, Instant.MinValue, Instant.MaxValue, default).ToListAsync();
            Assert.Equal(samples.Count / 2, minutes.Sum(minute => minute.Count));
        }

        return last;
    }
}
