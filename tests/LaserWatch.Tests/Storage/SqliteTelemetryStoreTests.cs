using LaserWatch.Fakes;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

public sealed class SqliteTelemetryStoreTests : TelemetryStoreContract, IDisposable
{
    private static readonly Sample First = new(Channel.TubeCurrent, new Instant(1773041400000000000), 18.2);

    private readonly TemporaryFolder _folder = new();
    private int _files;

    protected override ITelemetryStore Make(StoreOptions options) =>
        SqliteTelemetryStore.Open(options with { Path = _folder.File($"{++_files}.db") });

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Everything_is_there_after_closing_and_opening_again()
    {
        var options = new StoreOptions { Path = _folder.File("store.db") };
        var delivery = new PacketDelivery("agent-1", 1, 1);
        var batch = Batch("bay1", First, First);
        batch.Deliveries.Add(delivery);
        await using (var store = SqliteTelemetryStore.Open(options))
            await store.AppendAsync(batch, default);

        await using var again = SqliteTelemetryStore.Open(options);

        Assert.Equal([First], await ReadAsync(again, "bay1"));
        Assert.Equal(new IgnoredSamples(1, 0), await again.ReadIgnoredAsync("bay1", default));
        Assert.True(await again.WasDeliveredAsync(delivery, default));
    }

    [Fact]
    public async Task A_batch_that_fails_half_way_leaves_nothing_and_the_next_one_is_kept()
    {
        var path = _folder.File("store.db");
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path });
        Execute(path, "CREATE TRIGGER no_gaps BEFORE INSERT ON gap BEGIN SELECT raise(ABORT, 'no'); END");
        var batch = Batch("bay1", First, First with { Value = 1 });
        batch.Gaps.Add(new Gap("bay1", First.At, First.At, "r", 0));
        await Assert.ThrowsAsync<SqliteException>(async () => await store.AppendAsync(batch, default));
        Assert.Empty(await ReadAsync(store, "bay1"));
        Assert.Empty(await store.ReadMachinesAsync(default));

        Execute(path, "DROP TRIGGER no_gaps");
        await store.AppendAsync(batch, default);

        Assert.Equal([First], await ReadAsync(store, "bay1"));
        Assert.Single(await store.ReadGapsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Equal(new IgnoredSamples(0, 1), await store.ReadIgnoredAsync("bay1", default));
        Assert.Single(await store.ReadRollUpsAsync("bay1", Channel.TubeCurrent, RollUpSpan.Minute, Instant.MinValue, Instant.MaxValue, default).ToListAsync());
    }

    [Fact]
    public async Task A_file_that_another_process_holds_fails_after_the_wait_and_works_again_when_it_lets_go()
    {
        var path = _folder.File("store.db");
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path, BusySeconds = 0.1 });
        using (var other = new SqliteConnection($"Data Source={path};Pooling=False"))
        {
            other.Open();
            using var transaction = other.BeginTransaction(deferred: false);
            var e = await Assert.ThrowsAsync<SqliteException>(async () => await store.AppendAsync(Batch("bay1", First), default));
            Assert.Equal(SQLitePCL.raw.SQLITE_BUSY, e.SqliteErrorCode);
        }

        await store.AppendAsync(Batch("bay1", First), default);
        Assert.Equal([First], await ReadAsync(store, "bay1"));
    }

    [Fact]
    public async Task Two_writers_of_one_file_do_not_spoil_what_the_other_knows_of_it()
    {
        var options = new StoreOptions { Path = _folder.File("store.db"), KeepSamplesDays = 1 };
        await using var one = SqliteTelemetryStore.Open(options);
        await using var other = SqliteTelemetryStore.Open(options);
        var now = First.At + TimeSpan.FromMinutes(2);
        await one.AppendAsync(Batch("bay1", First), default);
        await other.MaintainAsync(now, default); // takes away the mark that the first believes to stand

        await one.AppendAsync(Batch("bay1", First with { At = First.At + TimeSpan.FromSeconds(1), Value = 20 }), default);
        await one.MaintainAsync(now, default);

        Assert.Equal(
            [new RollUp(First.At, 2, 18.2, 19.1, 20)],
            await other.ReadRollUpsAsync("bay1", Channel.TubeCurrent, RollUpSpan.Minute, Instant.MinValue, Instant.MaxValue, default).ToListAsync());
    }

    [Fact]
    public async Task Upkeep_deletes_in_steps_between_which_a_write_gets_in()
    {
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = _folder.File("store.db"), KeepSamplesDays = 1 });
        var batch = new StoreBatch();
        for (var i = 0; i < 100_000; i++)
            batch.Samples.Add(("bay1", First with { At = First.At + TimeSpan.FromMilliseconds(100 * i) }));
        await store.AppendAsync(batch, default);

        var keeping = Task.Run(async () => await store.MaintainAsync(First.At + TimeSpan.FromDays(9), default));
        var written = 0;
        while (!keeping.IsCompleted)
        {
            await store.AppendAsync(Batch("bay2", First with { At = First.At + TimeSpan.FromDays(9) + TimeSpan.FromSeconds(written) }), default);
            written++;
        }

        Assert.Equal(100_000, (await keeping).DeletedSamples);
        Assert.InRange(written, 5, int.MaxValue); // ten steps at least; one held up until the end would have got in once or twice
        Assert.Empty(await ReadAsync(store, "bay1"));
    }

    [Fact]
    public async Task Upkeep_that_is_stopped_half_way_is_taken_up_by_the_next()
    {
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = _folder.File("store.db"), KeepSamplesDays = 1 });
        await store.AppendAsync(Batch("bay1", First), default);
        await Assert.ThrowsAnyAsync<OperationCanceledException>(
            async () => await store.MaintainAsync(First.At + TimeSpan.FromDays(9), new CancellationToken(canceled: true)));

        await store.MaintainAsync(First.At + TimeSpan.FromDays(9), default);

        Assert.Empty(await ReadAsync(store, "bay1"));
        Assert.Single(await store.ReadRollUpsAsync("bay1", Channel.TubeCurrent, RollUpSpan.Hour, Instant.MinValue, Instant.MaxValue, default).ToListAsync());
    }

    [Fact]
    public async Task Sessions_beyond_ten_thousand_are_forgotten_the_longest_unused_first()
    {
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = _folder.File("store.db") });
        var batch = new StoreBatch();
        batch.Deliveries.Add(new PacketDelivery("old", 1, 1));
        await store.AppendAsync(batch, default);
        batch.Clear();
        batch.Deliveries.AddRange(Enumerable.Range(0, 10_000).Select(i => new PacketDelivery($"client-{i}", 1, 1)));
        await store.AppendAsync(batch, default);

        await store.MaintainAsync(First.At, default);

        Assert.False(await store.WasDeliveredAsync(new PacketDelivery("old", 1, 1), default));
        Assert.True(await store.WasDeliveredAsync(new PacketDelivery("client-0", 1, 1), default));
    }

    [Fact]
    public async Task A_full_disk_loses_nothing_that_the_writer_holds()
    {
        var path = _folder.File("store.db");
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path, BusySeconds = 0.1 });
        await using var writer = new SampleWriter(store, new SampleWriterOptions(), TimeProvider.System, new CollectingLogger<SampleWriter>());
        // As near as a test comes to it: every insert of a sample fails as it would on a full disk.
        Execute(path, "CREATE TRIGGER full BEFORE INSERT ON sample BEGIN SELECT raise(ABORT, 'database or disk is full'); END");
        var acknowledged = 0;
        for (var i = 0; i < 100; i++)
            writer.TryEnqueue("bay1", First with { At = First.At + TimeSpan.FromSeconds(i) }, () => acknowledged++);
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(30));
        while (!writer.IsStoreFailing)
            await Task.Delay(10, patience.Token);
        Assert.Equal(0, acknowledged);

        Execute(path, "DROP TRIGGER full");
        await writer.FlushAsync(patience.Token);

        Assert.Equal(100, acknowledged);
        Assert.Equal(100, (await ReadAsync(store, "bay1")).Count);
    }

    private static void Execute(string path, string sql)
    {
        using var connection = new SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
#pragma warning disable CA2100 // The test's own constant.
        command.CommandText = sql;
#pragma warning restore CA2100
        command.ExecuteNonQuery();
    }
}
