using System.Diagnostics;
using System.Globalization;
using LaserWatch.Storage.Sqlite;
using LaserWatch.StoreWriter;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

public sealed class StoreReadersTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(1)]
    [InlineData(30)]
    public async Task A_reader_sees_whole_batches_while_another_process_writes(int machines)
    {
        var path = _folder.File("store.db");
        using var writer = new StoreWriterProcess(path, 0, keepDays: 1500, machines);
        await writer.ReadReportAsync();
        await using var reader = SqliteTelemetryStore.OpenForReading(path);

        for (var round = 0; round < 20; round++)
        {
            var reported = await writer.ReadReportAsync();
            var extent = await reader.ReadExtentAsync(NumberedBatch.Machine, default);
            var last = NumberedBatch.At((extent!.Value.Count / NumberedBatch.Samples) - 1, NumberedBatch.Samples - 1);

            Assert.Equal(0, extent.Value.Count % NumberedBatch.Samples);
            Assert.Equal(new SampleExtent(NumberedBatch.At(0, 0), last, extent.Value.Count), extent);
            Assert.True(extent.Value.Count >= (reported + 1) * NumberedBatch.Samples);
        }

        await writer.KillAsync();
    }

    [Theory]
    [InlineData(1)]
    [InlineData(30)]
    public async Task A_reader_meets_every_sample_once_while_another_process_gathers_and_packs_them(int machines)
    {
        var path = _folder.File("store.db");
        using var writer = new StoreWriterProcess(path, 0, keepDays: 1500, machines);
        await writer.ReadReportAsync();
        await using var reader = SqliteTelemetryStore.OpenForReading(path);

        for (var round = 0; round < 15; round++)
        {
            long reported = 0;
            for (var i = 0; i < 20; i++)
                reported = await writer.ReadReportAsync() ?? throw new InvalidOperationException("The writer ended by itself.");
            var expected = new List<Sample>();
            var batch = new StoreBatch();
            for (var number = 0; number <= reported; number++)
            {
                NumberedBatch.Fill(batch, number);
                expected.AddRange(batch.Samples.Select(entry => entry.Sample));
            }

            var read = await reader.ReadSamplesAsync(NumberedBatch.Machine, null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync();
            Assert.Equal(expected.OrderBy(sample => sample.At), read.Where(sample => sample.Value <= reported));
        }

        await writer.KillAsync();
    }

    [SkippableFact]
    public async Task The_sqlite3_command_reads_the_file_while_it_is_written()
    {
        var sqlite3 = Needs.Program("sqlite3");
        var path = _folder.File("store.db");
        using var writer = new StoreWriterProcess(path, 0);
        for (var i = 0; i < 5; i++)
            await writer.ReadReportAsync();

        var answer = Run(sqlite3, path, "SELECT (SELECT count(*) FROM sample) + (SELECT ifnull(sum(n), 0) FROM sealed_hour) >= 50");
        var reported = await writer.ReadReportAsync();

        Assert.Equal("1", answer.Trim());
        Assert.NotNull(reported); // it was still writing
        await writer.KillAsync();
    }

    [Fact]
    public async Task A_reader_needs_no_writer_and_writes_nothing()
    {
        var path = _folder.File("store.db");
        var batch = new StoreBatch();
        NumberedBatch.Fill(batch, 0);
        await using (var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path }))
            await store.AppendAsync(batch, default);
        var before = await File.ReadAllBytesAsync(path);

        await using (var reader = SqliteTelemetryStore.OpenForReading(path))
        {
            Assert.Equal(NumberedBatch.Samples, (await reader.ReadExtentAsync(NumberedBatch.Machine, default))!.Value.Count);
            await Assert.ThrowsAsync<InvalidOperationException>(async () => await reader.AppendAsync(batch, default));
            await Assert.ThrowsAsync<InvalidOperationException>(async () => await reader.MaintainAsync(Instant.MaxValue, default));
        }

        Assert.Equal(before, await File.ReadAllBytesAsync(path));
    }

    [Fact]
    public void A_reader_of_a_file_that_is_not_there_is_told_the_mend()
    {
        var path = _folder.File("none.db");

        var e = Assert.Throws<StoreException>(() => SqliteTelemetryStore.OpenForReading(path));

        Assert.Equal($"There is no store at {path}; start the agent once to make it, or give the path of its file.", e.Message);
        Assert.False(File.Exists(path));
    }

    [Fact]
    public async Task A_reading_that_stops_half_way_does_not_hold_the_log_file_back()
    {
        var path = _folder.File("store.db");
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path });
        var batch = new StoreBatch();
        for (var number = 0; number < 500; number++)
        {
            NumberedBatch.Fill(batch, number);
            await store.AppendAsync(batch, default);
        }

        await using var reading = store.ReadSamplesAsync(NumberedBatch.Machine, null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).GetAsyncEnumerator();
        Assert.True(await reading.MoveNextAsync());
        for (var number = 500; number < 4000; number++)
        {
            NumberedBatch.Fill(batch, number);
            await store.AppendAsync(batch, default);
        }

        // Some 1000 pages of 4 kB is where it starts anew; a reader that held it back would have let it grow to ten times that.
        Assert.InRange(new FileInfo(path + "-wal").Length, 1, 8_000_000);
        var rest = 1;
        while (await reading.MoveNextAsync())
            rest++;
        Assert.Equal(4000 * NumberedBatch.Samples, rest);
    }

    private static string Run(string command, params string[] arguments)
    {
        using var process = Process.Start(new ProcessStartInfo(command, arguments) { RedirectStandardOutput = true })!;
        var output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, string.Create(CultureInfo.InvariantCulture, $"{command} ended with {process.ExitCode}."));
        return output;
    }
}
