using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

public sealed class BatchWriterTests : IDisposable
{
    // As SQLite numbers them.
    private const long Normal = 1;
    private const long Full = 2;

    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Samples_do_not_wait_for_the_disk_but_events_do()
    {
        using var connection = StoreFile.OpenForWriting(_folder.File("store.db"), 1);
        using var writer = new BatchWriter(connection, syncAlways: false);
        var samples = new StoreBatch();
        samples.Samples.Add(("bay1", new Sample(Channel.Power, new Instant(1), 66)));
        samples.Deliveries.Add(new PacketDelivery("agent-1", 1, 1));
        var events = new StoreBatch();
        events.Gaps.Add(new Gap("bay1", new Instant(1), new Instant(2), "r", 0));

        var seen = new List<long>();
        foreach (var batch in new[] { samples, events, samples, events })
        {
            writer.Append(batch);
            seen.Add(ReadSync(connection));
        }

        Assert.Equal([Normal, Full, Normal, Full], seen);
    }

    [Fact]
    public void Every_batch_waits_for_the_disk_where_that_is_asked_for()
    {
        using var connection = StoreFile.OpenForWriting(_folder.File("store.db"), 1);
        using var writer = new BatchWriter(connection, syncAlways: true);
        var batch = new StoreBatch();
        batch.Samples.Add(("bay1", new Sample(Channel.Power, new Instant(1), 66)));

        writer.Append(batch);

        Assert.Equal(Full, ReadSync(connection));
    }

    private static long ReadSync(SqliteConnection connection)
    {
        using var statement = new Statement(connection, "PRAGMA synchronous");
        return statement.RunForInt64()!.Value;
    }
}
