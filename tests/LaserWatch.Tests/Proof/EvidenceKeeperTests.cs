using System.Text;
using LaserWatch.Fakes;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Proof;

public class EvidenceKeeperTests
{
    [Fact]
    public async Task A_day_is_sealed_once_it_has_been_over_for_an_hour_and_not_twice()
    {
        await using var shop = new SealedShop();
        await shop.AppendDayAsync(0);

        Assert.Equal(0, (await shop.Keeper.SealAsync(shop.Store, UtcDay.End(SealedShop.FirstDay) + TimeSpan.FromMinutes(59), default)).Days);
        Assert.Equal(1, (await shop.Keeper.SealAsync(shop.Store, UtcDay.End(SealedShop.FirstDay) + TimeSpan.FromMinutes(61), default)).Days);
        Assert.Equal(0, (await shop.SealAsync(3)).Days);
        Assert.Single(shop.ReadLog().Entries);
    }

    [Fact]
    public async Task A_day_that_has_grown_gets_a_revision_that_says_so_and_the_first_entry_stays()
    {
        await using var shop = await SealedShop.CreateAsync();
        var before = shop.ReadLog().Entries;
        await shop.AddSampleAsync(1, 500, 18);

        var outcome = await shop.SealAsync(4);

        var entries = shop.ReadLog().Entries;
        Assert.Equal((1, 4), (outcome.Revised, entries.Count));
        Assert.Equal(before.Select(entry => entry.Samples.Root), entries.Take(3).Select(entry => entry.Samples.Root));
        Assert.Equal((1, 1), (entries[3].Revision, entries[3].Replaces));
        Assert.Equal("1 sample(s) came after the day was sealed", entries[3].Why);
        Assert.True(SealedShop.Verify(await shop.RecordAsync()).IsWhole);
    }

    [Fact]
    public async Task A_day_that_has_lost_a_sample_is_told_and_never_sealed_anew()
    {
        await using var shop = await SealedShop.CreateAsync();
        var less = new InMemoryTelemetryStore();
        await CopyAsync(shop.Store, less, skip: SealedShop.At(1, 8.25));
        var keeper = new EvidenceKeeper(shop.StoreOptions, new EvidenceOptions(), NullLogger.Instance);

        var outcome = await keeper.SealAsync(less, SealedShop.At(4, 0), default);

        Assert.Equal((0, 0), (outcome.Days, outcome.Revised));
        Assert.Contains("2026-03-10", Assert.Single(outcome.Altered), StringComparison.Ordinal);
        Assert.Equal(3, shop.ReadLog().Entries.Count);
    }

    [Theory]
    [InlineData(0.0)]
    [InlineData(0.1)]
    [InlineData(0.5)]
    [InlineData(0.9)]
    [InlineData(1.0)]
    public async Task A_line_that_was_being_written_when_the_power_failed_is_cut_off_and_written_again(double part)
    {
        await using var shop = await SealedShop.CreateAsync();
        var file = shop.Folder.LogFile("bay1");
        var whole = await File.ReadAllBytesAsync(file);
        var last = whole.AsSpan(0, whole.Length - 1).LastIndexOf((byte)'\n') + 1;
        await File.WriteAllBytesAsync(file, whole[..(last + 1 + (int)(part * (whole.Length - last - 2)))]);
        await shop.AddSampleAsync(2, 1000, 18);

        Assert.Equal(1, (await shop.SealAsync(5)).Revised);

        Assert.Equal(whole[..last], (await File.ReadAllBytesAsync(file))[..last]);
        Assert.True(SealedShop.Verify(await shop.RecordAsync()).IsWhole);
    }

    [Fact]
    public async Task A_damaged_log_of_one_machine_is_told_and_leaves_no_other_unsealed()
    {
        await using var shop = await SealedShop.CreateAsync();
        var batch = new StoreBatch();
        batch.Samples.Add(("bay2", new Sample(Channel.TubeCurrent, SealedShop.At(0, 1), 18)));
        await shop.Store.AppendAsync(batch, default);
        var file = shop.Folder.LogFile("bay1");
        var text = await File.ReadAllTextAsync(file);
        await File.WriteAllTextAsync(file, text.Replace("\"revision\":0", "\"revision\":7", StringComparison.Ordinal));

        var fault = await Assert.ThrowsAsync<EvidenceException>(() => shop.SealAsync(4));

        Assert.Contains("bay1.ndjson, line 1", fault.Message, StringComparison.Ordinal);
        Assert.NotEmpty(EvidenceLog.Read(shop.Folder, "bay2").Content.Entries);
    }

    [Fact]
    public async Task The_key_is_made_for_its_owner_alone_and_two_cannot_seal_at_once()
    {
        await using var shop = await SealedShop.CreateAsync();
        if (!OperatingSystem.IsWindows())
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(shop.Folder.KeyFile));

        using var held = shop.Folder.Lock();

        Assert.Contains("another process", (await Assert.ThrowsAsync<EvidenceException>(() => shop.SealAsync(4))).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Leaves_of_a_packed_store_are_those_of_the_recording_read_again()
    {
        using var files = new TemporaryFolder();
        var options = new StoreOptions { Path = files.File("a.db") };
        await using var store = SqliteTelemetryStore.Open(options);
        await using var shop = new SealedShop();
        for (var day = 0; day < 3; day++)
            await shop.AppendDayAsync(day);
        await CopyAsync(shop.Store, store, skip: Instant.MinValue);
        await store.MaintainAsync(SealedShop.At(5, 0), default);
        await new EvidenceKeeper(options, new EvidenceOptions(), NullLogger.Instance).SealAsync(store, SealedShop.At(5, 0), default);

        using var recording = new MemoryStream();
        await Recordings.RecordingWriter.WriteAsync(store, "bay1", Instant.MinValue, Instant.MaxValue, recording, EvidenceFolder.Of(options), default);

        var report = SealedShop.Verify(recording.ToArray());
        Assert.Empty(report.Findings);
        Assert.Equal((270, 3), (report.Samples, report.Days));
    }

    [Fact]
    public async Task One_byte_changed_in_a_recording_is_seen_or_says_the_same()
    {
        await using var shop = await SealedShop.CreateAsync();
        var recording = await shop.RecordAsync();
        var random = new Random(20_260_309);
        for (var i = 0; i < 400; i++)
        {
            var changed = recording.ToArray();
            changed[random.Next(changed.Length)] ^= (byte)(1 << random.Next(8));

            Assert.True(!SealedShop.Verify(changed).IsWhole || SaysTheSame(recording, changed), Encoding.UTF8.GetString(changed));
        }
    }

    /// <summary>Another spelling of the same: the parsed values are equal, bit for bit.</summary>
    private static bool SaysTheSame(byte[] one, byte[] other) => Said(one).SequenceEqual(Said(other));

    private static List<(string, long, string, long)> Said(byte[] recording)
    {
        using var reader = new Recordings.RecordingReader(new MemoryStream(recording), new ChannelTable());
        List<(string, long, string, long)> said = [];
        while (reader.Read() is { } e)
        {
            foreach (var (channel, value) in e.Values)
                said.Add((e.Machine, e.At.UnixNanoseconds, channel.Name, BitConverter.DoubleToInt64Bits(value + 0.0)));
        }

        return said;
    }

    private static async Task CopyAsync(ITelemetryStore from, ITelemetryStore to, Instant skip)
    {
        var batch = new StoreBatch();
        await foreach (var sample in from.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default))
        {
            if (sample.At != skip || sample.Channel != Channel.TubeCurrent)
                batch.Samples.Add(("bay1", sample));
        }

        batch.JobRecords.AddRange(await from.ReadJobRecordsAsync(default));
        batch.JobRuns.AddRange(await from.ReadJobRunsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        batch.ServiceEvents.AddRange(await from.ReadServiceEventsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        batch.AlarmChanges.AddRange(await from.ReadAlarmChangesAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        await to.AppendAsync(batch, default);
    }
}
