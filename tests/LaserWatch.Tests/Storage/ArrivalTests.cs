using LaserWatch.Storage.Packing;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

public sealed class ArrivalTests : IDisposable
{
    private const int Machines = 20;

    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    private static readonly Channel[] Channels = [Channel.TubeCurrent, Channel.Power];

    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    private string Path => _folder.File("store.db");

    [Fact]
    public async Task What_a_commit_brings_of_many_machines_is_one_row_and_is_read_at_once_by_any_reader()
    {
        await using var store = Open();
        await using var reader = SqliteTelemetryStore.OpenForReading(Path);
        for (var commit = 0; commit < 3; commit++)
        {
            await store.AppendAsync(Seconds(commit * 10, 10), default);

            Assert.Equal(commit + 1, Count("SELECT count(*) FROM arrival"));
            Assert.Equal((commit + 1) * 10, await ReadAsync(reader, "bay7", Start));
        }

        Assert.Equal(3 * 10 * Machines * Channels.Length, Count("SELECT sum(n) FROM arrival"));
        Assert.Equal(0, Count("SELECT (SELECT count(*) FROM tail) + (SELECT count(*) FROM sample)"));
        Assert.Equal(new SampleExtent(Start, Start + TimeSpan.FromSeconds(29), 60), await reader.ReadExtentAsync("bay7", default));
    }

    [Fact]
    public async Task Rows_are_gathered_when_they_fill_a_page_of_each_machine()
    {
        await using var store = Open();
        var gathered = 0;
        for (var commit = 0; gathered == 0; commit++)
        {
            await store.AppendAsync(Seconds(commit * 20, 20), default);
            gathered = (int)Count("SELECT ifnull(sum(n), 0) FROM tail");
            Assert.InRange(commit, 0, 20);
        }

        Assert.Equal(0, Count("SELECT count(*) FROM arrival"));
        Assert.Equal(Machines, Count("SELECT count(*) FROM tail"));
        Assert.InRange(Count("SELECT avg(length(block)) FROM tail"), Gathering.EnoughOfEach / 2, 2 * Gathering.EnoughOfEach);
        Assert.Equal(gathered / Machines / Channels.Length, await ReadAsync(store, "bay7", Start));
    }

    [Fact]
    public async Task However_small_they_are_rows_do_not_grow_without_end()
    {
        await using var store = Open();
        for (var second = 0; second < Gathering.MostRows; second++)
            await store.AppendAsync(Seconds(second, 1, machines: second == 0 ? Machines : 1), default);

        Assert.Equal(0, Count("SELECT count(*) FROM arrival"));
        Assert.Equal(Gathering.MostRows, await ReadAsync(store, "bay0", Start));
    }

    [Fact]
    public async Task Few_machines_have_their_blocks_at_once_and_so_have_many_that_bring_a_block_each()
    {
        await using var store = Open();
        await store.AppendAsync(Seconds(0, 10, SampleAppending.FewMachines), default);
        Assert.Equal(SampleAppending.FewMachines, Count("SELECT count(*) FROM tail"));

        await store.AppendAsync(Seconds(10, 600), default);
        Assert.Equal(SampleAppending.FewMachines + Machines, Count("SELECT count(*) FROM tail"));
        Assert.Equal(0, Count("SELECT count(*) FROM arrival"));
    }

    [Fact]
    public async Task While_something_is_not_gathered_few_machines_wait_behind_it_so_that_blocks_stay_in_order()
    {
        await using var store = Open();
        await store.AppendAsync(Seconds(0, 10), default);
        await store.AppendAsync(Seconds(10, 10, machines: 1), default);

        Assert.Equal((2, 0), (Count("SELECT count(*) FROM arrival"), Count("SELECT count(*) FROM tail")));
        Assert.Equal(20, await ReadAsync(store, "bay0", Start));
    }

    [Fact]
    public async Task A_sample_that_came_before_is_known_again_though_it_is_not_gathered()
    {
        await using (var store = Open())
        {
            await store.AppendAsync(Seconds(0, 10), default);
            await store.AppendAsync(Seconds(5, 10), default);
            Assert.Equal(new IgnoredSamples(Duplicates: 10, Conflicts: 0), await store.ReadIgnoredAsync("bay7", default));
        }

        await using var anew = Open();
        var other = Seconds(12, 1);
        for (var i = 0; i < other.Samples.Count; i++)
            other.Samples[i] = (other.Samples[i].Machine, other.Samples[i].Sample with { Value = -1 });
        await anew.AppendAsync(other, default);

        Assert.Equal(new IgnoredSamples(Duplicates: 10, Conflicts: 2), await anew.ReadIgnoredAsync("bay7", default));
        Assert.Equal(15, await ReadAsync(anew, "bay7", Start));
    }

    [Fact]
    public async Task An_hour_is_packed_with_all_that_was_not_gathered()
    {
        await using var store = Open();
        await store.AppendAsync(Seconds(3590, 20), default);

        Assert.Equal(10 * Machines * Channels.Length, (await store.MaintainAsync(Start + TimeSpan.FromMinutes(70), default)).PackedSamples);

        Assert.Equal(Machines * Channels.Length, Count("SELECT count(*) FROM sealed_hour"));
        Assert.Equal(10 * Machines * Channels.Length, Count("SELECT sum(n) FROM tail"));
        Assert.Equal(20, await ReadAsync(store, "bay7", Start));
    }

    [Fact]
    public async Task A_damaged_row_is_one_clear_error_and_holds_nothing_else_up()
    {
        await using var store = Open();
        await store.AppendAsync(Seconds(0, 10), default);
        await store.AppendAsync(Seconds(3600, 10), default);
        await store.AppendAsync(Seconds(7200, 10), default);
        Execute("UPDATE arrival SET block = CAST(substr(block, 1, 20) || x'00' || substr(block, 22) AS BLOB) WHERE id = 2");

        var e = await Assert.ThrowsAsync<StoreException>(async () => await ReadAsync(store, "bay7", Start));
        Assert.Equal(
            $"The newest samples of the machines from 2026-03-09T09:00:00.000Z to 2026-03-09T09:00:09.000Z are damaged in {Path}: the packed block does not match its checksum; put a copy of the file in its place, or read the times before and after it.",
            e.Message);
        Assert.Equal(e.Message, (await Assert.ThrowsAsync<StoreException>(async () => await store.ReadExtentAsync("bay7", default))).Message);
        Assert.Equal(10, await store.ReadSamplesAsync("bay7", [Channel.Power], Start, Start + TimeSpan.FromHours(1), new ChannelTable(), default).CountAsync());
        Assert.Equal(10, await ReadAsync(store, "bay7", Start + TimeSpan.FromHours(2)));

        // Late and new samples are taken, and upkeep says what is wrong but gathers and packs the rest.
        await store.AppendAsync(Seconds(3605, 1), default);
        await store.AppendAsync(Seconds(7210, 10), default);
        var told = await Assert.ThrowsAsync<StoreException>(async () => await store.MaintainAsync(Start + TimeSpan.FromHours(9), default));
        Assert.Equal(e.Message, told.Message);
        Assert.Equal([2], Ids());
        Assert.Equal(20, await ReadAsync(store, "bay7", Start + TimeSpan.FromHours(2)));
        Assert.Equal(10, await store.ReadSamplesAsync("bay7", [Channel.Power], Start, Start + TimeSpan.FromHours(1), new ChannelTable(), default).CountAsync());

        await store.AppendAsync(Seconds(36_000, 10), default);
        Assert.Equal(2, Ids().Count);
        Assert.Equal(30, await ReadAsync(store, "bay7", Start + TimeSpan.FromHours(2)));
    }

    [Fact]
    public async Task Where_the_numbers_of_an_hour_are_used_up_what_is_gathered_becomes_rows()
    {
        await using (var store = Open())
            await store.AppendAsync(Seconds(0, 10, machines: 1), default);
        MoveToLastNumber();
        await using var anew = Open();
        await anew.AppendAsync(Seconds(10, 10), default);
        await anew.MaintainAsync(Start + TimeSpan.FromMinutes(69), default);

        Assert.Equal(0, Count("SELECT count(*) FROM arrival"));
        Assert.Equal(10 * Channels.Length, Count("SELECT count(*) FROM sample"));
        Assert.Equal(20, await ReadAsync(anew, "bay0", Start));
        Assert.Equal(10, await ReadAsync(anew, "bay7", Start));
    }

    [Fact]
    public async Task A_file_of_version_3_keeps_its_blocks_and_goes_on_with_many_machines()
    {
        await using (var old = Open())
            await old.AppendAsync(Seconds(0, 10, machines: 3), default);
        Execute("DROP TABLE arrival; PRAGMA user_version = 3;");

        await using var store = Open();
        await store.AppendAsync(Seconds(5, 10), default);

        Assert.Equal(1, Count("SELECT count(*) FROM arrival"));
        Assert.Equal(15, await ReadAsync(store, "bay2", Start));
        Assert.Equal(10, (await store.ReadIgnoredAsync("bay2", default)).Duplicates);
        Assert.Equal(10, await ReadAsync(store, "bay3", Start));
    }

    /// <summary>Gives the one block the last number that its hour has.</summary>
    private void MoveToLastNumber()
    {
        using var connection = StoreFile.OpenForWriting(Path, 1);
        using var read = new Statement(connection, "SELECT id, block FROM tail");
        Assert.True(read.Step());
        var (id, block) = (read.Int64(0), read.Blob(1));
        read.Reset();
        var last = id + BlockKey.TailRoom - 1;
        var moved = new PackWriter();
        moved.Write(block.AsSpan(0, block.Length - ChunkFormat.CheckBytes));
        ChunkFormat.End(moved, last);
        using var move = new Statement(connection, "UPDATE tail SET id = ?1, block = ?2");
        move.Bind(1, last).Bind(2, moved.Written).Run();
    }

    private static StoreBatch Seconds(int first, int count, int machines = Machines)
    {
        var batch = new StoreBatch();
        for (var second = first; second < first + count; second++)
        {
            for (var machine = 0; machine < machines; machine++)
            {
                foreach (var channel in Channels)
                    batch.Samples.Add(($"bay{machine}", new Sample(channel, Start + TimeSpan.FromSeconds(second), (second + machine) % 91 / 10.0)));
            }
        }

        return batch;
    }

    private static async Task<int> ReadAsync(SqliteTelemetryStore store, string machine, Instant from) =>
        await store.ReadSamplesAsync(machine, [Channel.Power], from, Instant.MaxValue, new ChannelTable(), default).CountAsync();

    private SqliteTelemetryStore Open() => SqliteTelemetryStore.Open(new StoreOptions { Path = Path });

    private List<long> Ids()
    {
        using var connection = StoreFile.OpenForReading(Path, 1);
        using var statement = new Statement(connection, "SELECT id FROM arrival ORDER BY id");
        var ids = new List<long>();
        while (statement.Step())
            ids.Add(statement.Int64(0));
        return ids;
    }

    private long Count(string sql)
    {
        using var connection = StoreFile.OpenForReading(Path, 1);
        using var statement = new Statement(connection, sql);
        return statement.RunForInt64()!.Value;
    }

    private void Execute(string sql)
    {
        using var connection = new SqliteConnection($"Data Source={Path};Pooling=False");
        connection.Open();
        Schema.Execute(connection, sql);
    }
}
