using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

public sealed class SealingTests : IDisposable
{
    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    private static readonly Channel[] Channels = [Channel.TubeCurrent, Channel.Power, Channel.CoolantIn];

    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    private string Path => _folder.File("store.db");

    [Fact]
    public async Task An_hour_is_packed_ten_minutes_after_it_is_over_and_not_before()
    {
        await using var store = Open();
        await store.AppendAsync(Hours(0, 2), default);

        Assert.Equal(0, (await store.MaintainAsync(Start + TimeSpan.FromMinutes(69), default)).PackedSamples);
        Assert.Equal(3 * 3600, (await store.MaintainAsync(Start + TimeSpan.FromMinutes(70), default)).PackedSamples);
        Assert.Equal(3, Count("SELECT count(*) FROM sealed_hour"));
        Assert.Equal(3 * 3600, Count("SELECT count(*) FROM sample"));
    }

    [Fact]
    public async Task Channels_with_the_same_times_share_them_and_part_when_one_gets_another_sample()
    {
        await using var store = Open();
        await store.AppendAsync(Hours(0, 2), default);
        await store.MaintainAsync(Start + TimeSpan.FromHours(3), default);
        Assert.Equal(2, Count("SELECT count(*) FROM sealed_time"));

        var late = new StoreBatch();
        late.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(0.5), 18)));
        await store.AppendAsync(late, default);
        await store.MaintainAsync(Start + TimeSpan.FromHours(4), default);
        Assert.Equal(3, Count("SELECT count(*) FROM sealed_time"));
        Assert.Equal(0, Count("SELECT count(*) FROM sample"));
    }

    [Fact]
    public async Task Stragglers_of_a_packed_hour_wait_for_the_next_round_and_are_read_meanwhile()
    {
        await using var store = Open();
        await store.AppendAsync(Hours(0, 1), default);
        var now = Start + TimeSpan.FromHours(3);
        await store.MaintainAsync(now, default);
        var late = new StoreBatch();
        late.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(0.5), 18)));
        late.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(1), Value(1)))); // packed already
        late.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(2), -1)));
        await store.AppendAsync(late, default);

        Assert.Equal(0, (await store.MaintainAsync(now + TimeSpan.FromMinutes(1), default)).PackedSamples);
        var read = await store.ReadSamplesAsync("bay1", [Channel.TubeCurrent], Start, Instant.MaxValue, new ChannelTable(), default).Take(3).ToListAsync();
        Assert.Equal([Value(0), 18, Value(1)], read.Select(sample => sample.Value));
        Assert.Equal(new IgnoredSamples(Duplicates: 1, Conflicts: 1), await store.ReadIgnoredAsync("bay1", default));
        Assert.Equal(1, (await store.MaintainAsync(now + TimeSpan.FromHours(1), default)).PackedSamples);
    }

    [Fact]
    public async Task What_was_late_for_a_packed_hour_is_known_again_when_the_hour_was_packed_anew()
    {
        await using var store = Open();
        await store.AppendAsync(Hours(0, 1), default);
        var now = Start + TimeSpan.FromHours(3);
        await store.MaintainAsync(now, default);
        for (var round = 1; round <= 3; round++)
        {
            // The same ten seconds, each round at a fraction of its own, then that of the round before, and what was there at first.
            var late = new StoreBatch();
            for (var second = 0; second < 10; second++)
            {
                foreach (var channel in Channels)
                {
                    for (var part = round; part >= 0; part--)
                        late.Samples.Add(("bay1", new Sample(channel, Start + TimeSpan.FromSeconds(second + (part / 4.0)), part == 0 ? Value(second) : part)));
                }
            }

            await store.AppendAsync(late, default);
            var once = 30 * round * (round + 1) / 2;
            Assert.Equal(new IgnoredSamples(Duplicates: once, Conflicts: 0), await store.ReadIgnoredAsync("bay1", default));
            now += TimeSpan.FromHours(1);
            Assert.Equal(30, (await store.MaintainAsync(now, default)).PackedSamples);
        }

        Assert.Equal(3600 + 30, await ReadAsync(store, Channel.Power, Start));
    }

    [Fact]
    public async Task A_damaged_hour_is_one_clear_error_and_holds_nothing_else_up()
    {
        await using var store = Open();
        await store.AppendAsync(Hours(0, 3), default);
        await store.MaintainAsync(Start + TimeSpan.FromHours(4), default);
        Execute("UPDATE sealed_value SET block = CAST(substr(block, 1, 20) || x'00' || substr(block, 22) AS BLOB) WHERE id = (SELECT min(id) FROM sealed_value)");

        var e = await Assert.ThrowsAsync<StoreException>(async () => await ReadAsync(store, Channel.TubeCurrent, Start));
        Assert.Equal(
            $"The samples of bay1 tube_current in the hour from 2026-03-09T08:00:00.000Z are damaged in {Path}: the packed block does not match its checksum; put a copy of the file in its place, or read the times before and after it.",
            e.Message);
        Assert.Equal(3 * 3600, await ReadAsync(store, Channel.Power, Start));
        Assert.Equal(2 * 3600, await ReadAsync(store, Channel.TubeCurrent, Start + TimeSpan.FromHours(1)));

        // Late samples are taken, and upkeep says what is wrong but packs the rest.
        var late = Hours(3, 1);
        late.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(0.5), 18)));
        await store.AppendAsync(late, default);
        var told = await Assert.ThrowsAsync<StoreException>(async () => await store.MaintainAsync(Start + TimeSpan.FromHours(9), default));
        Assert.Equal(e.Message, told.Message);
        Assert.Equal(1, Count("SELECT count(*) FROM sample"));
        Assert.Equal(3 * 3600, await ReadAsync(store, Channel.TubeCurrent, Start + TimeSpan.FromHours(1)));
    }

    [Fact]
    public async Task What_is_few_or_late_is_kept_once_and_read_in_order()
    {
        await using var store = Open();
        await store.AppendAsync(Hours(0, 2), default);
        var late = new StoreBatch();
        for (var i = 0; i < 9; i++)
            late.Samples.Add(("bay1", new Sample(Channel.Power, Start + TimeSpan.FromSeconds(i / 2.0), Value(i / 2))));
        await store.AppendAsync(late, default);
        var few = new StoreBatch();
        foreach (var channel in Channels)
            few.Samples.Add(("bay1", new Sample(channel, Start + TimeSpan.FromHours(2), 1)));
        await store.AppendAsync(few, default);

        Assert.Equal(5, (await store.ReadIgnoredAsync("bay1", default)).Duplicates); // of nine late ones five were there
        Assert.Equal(7200 + 4 + 1, await ReadAsync(store, Channel.Power, Start));
        Assert.Equal((3 * 7200) + 7, (await store.ReadExtentAsync("bay1", default))!.Value.Count);
    }

    [Fact]
    public async Task A_channel_is_read_past_long_stretches_in_which_only_others_came()
    {
        await using var store = Open();
        var batch = new StoreBatch();
        batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start, 18)));
        for (var i = 0; i < 9000; i++)
            batch.Samples.Add(("bay1", new Sample(Channel.Power, Start + TimeSpan.FromSeconds(i + 1), i)));
        batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start + TimeSpan.FromHours(5), 19)));
        await store.AppendAsync(batch, default);

        Assert.Equal(2, await ReadAsync(store, Channel.TubeCurrent, Start));
        Assert.Equal(2, (await store.ReadRollUpsAsync("bay1", Channel.TubeCurrent, RollUpSpan.Minute, Start, Instant.MaxValue, default).ToListAsync()).Count);
    }

    [Fact]
    public async Task What_came_for_an_hour_that_is_damaged_stays_as_rows()
    {
        await using var store = Open();
        await store.AppendAsync(Hours(0, 1), default);
        await store.MaintainAsync(Start + TimeSpan.FromHours(2), default);
        await store.AppendAsync(Hours(1, 1), default);
        Execute("INSERT INTO sealed_hour SELECT series_id, hour + 1, time_id, n, min, mean, max FROM sealed_hour WHERE series_id = 1"); // without its block

        await Assert.ThrowsAsync<StoreException>(async () => await store.MaintainAsync(Start + TimeSpan.FromHours(9), default));

        Assert.Equal(3600, Count("SELECT count(*) FROM sample"));
        Assert.Equal(7200, await ReadAsync(store, Channel.Power, Start));
    }

    [Fact]
    public async Task Saved_states_written_anew_each_minute_and_hours_of_rows_do_not_stay_in_the_size_of_the_file()
    {
        await using (var store = Open())
        {
            var random = new Random(1);
            var state = new byte[55_000];
            for (var hour = 0; hour < 8; hour++)
            {
                var batch = Hours(hour, 1);
                for (var minute = 0; minute < 20; minute++)
                {
                    random.NextBytes(state);
                    batch.WatchStates.Add(("bay1", state));
                    await store.AppendAsync(batch, default);
                    batch.Clear();
                }

                await store.MaintainAsync(Start + TimeSpan.FromHours(hour + 2), default);
            }
        }

        Assert.InRange(new FileInfo(Path).Length, 55_000, 500_000); // 86 400 samples, a state, the tables and some free pages
    }

    private static double Value(int i) => i * i % 91 / 10.0;

    /// <summary>Three channels at 1 Hz.</summary>
    private static StoreBatch Hours(int first, int count)
    {
        var batch = new StoreBatch();
        for (var i = first * 3600; i < (first + count) * 3600; i++)
        {
            foreach (var channel in Channels)
                batch.Samples.Add(("bay1", new Sample(channel, Start + TimeSpan.FromSeconds(i), Value(i))));
        }

        return batch;
    }

    private static async Task<int> ReadAsync(SqliteTelemetryStore store, Channel channel, Instant from) =>
        await store.ReadSamplesAsync("bay1", [channel], from, Instant.MaxValue, new ChannelTable(), default).CountAsync();

    private SqliteTelemetryStore Open() => SqliteTelemetryStore.Open(new StoreOptions { Path = Path });

    private long Count(string sql)
    {
        using var connection = new SqliteConnection($"Data Source={Path};Pooling=False");
        connection.Open();
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
