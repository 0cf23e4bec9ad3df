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

    [Fact]
    public void A_commit_of_a_large_shop_writes_a_page_or_two_of_each_machine_however_many_channels_it_has()
    {
        const int machines = 200, commits = 25, pageBytes = 4096 + 24;
        Channel[] channels = [.. new ChannelTable().All.Take(8)];
        var path = _folder.File("store.db");
        using var connection = StoreFile.OpenForWriting(path, 1);
        using var writer = new BatchWriter(connection, syncAlways: false);
        using var rows = new Statement(connection, "SELECT count(*) FROM sample");
        Schema.Execute(connection, "PRAGMA wal_autocheckpoint = 0");
        string[] names = [.. Enumerable.Range(0, machines).Select(machine => $"bay{machine}")];
        var batch = new StoreBatch();
        var pages = 0L;
        for (var commit = 0; commit < commits; commit++)
        {
            batch.Clear();
            foreach (var name in names)
            {
                foreach (var channel in channels)
                    batch.Samples.Add((name, new Sample(channel, new Instant((commit * 1_000_000_000L) + 1), commit)));
            }

            writer.Append(batch);
            var now = new FileInfo(path + "-wal").Length / pageBytes;
            // The first one adds all series.
            if (commit > 0)
                Assert.InRange(now - pages, 1, 2 * machines);
            pages = now;
        }

        Assert.Equal(machines * commits * channels.Length, rows.RunForInt64());
    }

    [Fact]
    public void Once_its_room_has_grown_a_commit_of_many_machines_allocates_nothing()
    {
        const int machines = 100, each = 8;
        using var connection = StoreFile.OpenForWriting(_folder.File("store.db"), 1);
        using var writer = new BatchWriter(connection, syncAlways: false);
        string[] names = [.. Enumerable.Range(0, machines).Select(machine => $"bay{machine}")];
        var batch = new StoreBatch();
        var allocated = 0L;
        for (var commit = 0; commit < 400; commit++)
        {
            batch.Clear();
            foreach (var name in names)
            {
                for (var i = 0; i < each; i++)
                    batch.Samples.Add((name, new Sample(Channel.Power, new Instant((commit * 1000L) + i + 1), commit + i)));
            }

            var began = GC.GetAllocatedBytesForCurrentThread();
            writer.Append(batch);
            if (commit >= 200)
                allocated += GC.GetAllocatedBytesForCurrentThread() - began;
        }

        Assert.InRange(allocated, 0, 200 * machines * each / 50);
    }

    [Fact]
    public void The_log_of_a_small_shop_is_copied_as_soon_as_ever()
    {
        const int pageBytes = 4096 + 24;
        var path = _folder.File("store.db");
        using var connection = StoreFile.OpenForWriting(path, 1);
        using var writer = new BatchWriter(connection, syncAlways: false);
        var batch = new StoreBatch();
        for (var commit = 0; commit < 1500; commit++)
        {
            batch.Clear();
            for (var i = 0; i < 4; i++)
                batch.Samples.Add(("bay1", new Sample(Channel.Power, new Instant((commit * 1000L) + i + 1), commit)));
            writer.Append(batch);
        }

        Assert.InRange(new FileInfo(path + "-wal").Length / pageBytes, 1, StoreFile.LogPages + 50);
    }

    private static long ReadSync(SqliteConnection connection)
    {
        using var statement = new Statement(connection, "PRAGMA synchronous");
        return statement.RunForInt64()!.Value;
    }
}
