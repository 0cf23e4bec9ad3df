using System.IO.Compression;
using System.Text;

namespace LaserWatch.Proof;

public class RecordingVerifierTests
{
    private static string[] Lines(byte[] recording) => Encoding.UTF8.GetString(recording).TrimEnd('\n').Split('\n');

    private static byte[] Joined(IEnumerable<string> lines) => Encoding.UTF8.GetBytes(string.Join('\n', lines) + "\n");

    private static int Find(string[] lines, string part) => Array.FindIndex(lines, line => line.Contains(part, StringComparison.Ordinal));

    private static Telemetry.Instant TimeOf(string line) => new(long.Parse(line[(line.LastIndexOf(' ') + 1)..]));

    private static async Task<VerificationReport> TamperAsync(Func<string[], IEnumerable<string>> tamper)
    {
        await using var shop = await SealedShop.CreateAsync();
        var lines = Lines(await shop.RecordAsync());
        return SealedShop.Verify(Joined(tamper(lines)));
    }

    private static string[] Changed(string[] lines, int place, string from, string to)
    {
        Assert.Contains(from, lines[place]);
        return [.. lines[..place], lines[place].Replace(from, to, StringComparison.Ordinal), .. lines[(place + 1)..]];
    }

    [Fact]
    public async Task A_recording_of_sealed_days_is_whole()
    {
        await using var shop = await SealedShop.CreateAsync();

        var report = SealedShop.Verify(await shop.RecordAsync());

        Assert.Empty(report.Findings);
        Assert.True(report.IsWhole);
        Assert.Equal((270, 15, 3), (report.Samples, report.Events, report.Days));
        Assert.Equal((SealedShop.At(0, 0.25), SealedShop.At(2, 176.25)), (report.FirstSample, report.LastSample));
        Assert.Empty(report.NotCovered);
    }

    [Fact]
    public async Task A_packed_recording_and_one_with_other_line_ends_are_whole()
    {
        await using var shop = await SealedShop.CreateAsync();
        var recording = await shop.RecordAsync();
        using var packed = new MemoryStream();
        using (var gzip = new GZipStream(packed, CompressionLevel.Fastest, leaveOpen: true))
            gzip.Write(recording);

        Assert.True(SealedShop.Verify(packed.ToArray()).IsWhole);
        Assert.True(SealedShop.Verify(Joined(Lines(recording).Select(line => line + "\r"))).IsWhole);
    }

    [Theory]
    [InlineData(0, 0, 0, 60)] // one whole minute
    [InlineData(0, 30, 0, 90)] // cut at both ends
    [InlineData(0, 70, 0, 75)] // within one minute
    [InlineData(0, 100, 2, 20)] // over days, a run under way repeated
    [InlineData(0, 40, 0, 41)] // a run under way, and one instant of samples
    [InlineData(1, -3600, 1, 3600)]
    [InlineData(1, -30_000, 3, 0)]
    [InlineData(2, 5, 9, 0)]
    public async Task A_part_of_the_days_is_whole(int fromDay, double from, int toDay, double to)
    {
        await using var shop = await SealedShop.CreateAsync();

        var report = SealedShop.Verify(await shop.RecordAsync(SealedShop.At(fromDay, from), SealedShop.At(toDay, to)));

        Assert.Empty(report.Findings);
        Assert.True(report.IsWhole);
        Assert.Empty(report.NotCovered);
        Assert.True(report.Samples > 0);
    }

    [Fact]
    public async Task A_day_that_was_not_over_is_told_as_not_covered()
    {
        await using var shop = await SealedShop.CreateAsync();
        await shop.AppendDayAsync(3);

        var report = SealedShop.Verify(await shop.RecordAsync());

        Assert.True(report.IsWhole);
        Assert.Equal(["2026-03-12: 90 sample(s) and 5 event line(s); the day was not over when the log was signed last, 2026-03-12T12:00:00Z"], report.NotCovered);
    }

    [Fact]
    public async Task A_recording_without_its_proof_is_told_as_that()
    {
        var report = await TamperAsync(lines => lines.Where(line => !line.StartsWith('#')));

        Assert.False(report.HasProof);
        Assert.False(report.IsWhole);
    }

    [Fact]
    public async Task An_altered_value_is_named_by_minute_channel_and_lines()
    {
        var report = await TamperAsync(lines => Changed(lines, Find(lines, "tube_current=18.84"), "18.84", "18.85"));

        Assert.Equal(
            ["2026-03-09T08:01:00Z, tube_current, lines 20 to 35: as many samples as were sealed, 15, but a value or a time was altered"],
            report.Findings.Select(finding => finding.ToString()));
    }

    [Fact]
    public async Task An_altered_time_is_named()
    {
        var report = await TamperAsync(lines => Changed(lines, Find(lines, "tube_current=18.84"), "250000000", "250000001"));

        Assert.Equal(["air_pressure", "tube_current"], report.Findings.Select(finding => finding.Channel));
        Assert.All(report.Findings, finding => Assert.Equal((FindingKinds.Altered, "2026-03-09T08:01:00Z"), (finding.What, finding.Minute)));
    }

    [Fact]
    public async Task A_line_taken_out_is_told_as_missing()
    {
        var report = await TamperAsync(lines => lines.Where((_, i) => i != Find(lines, "tube_current=18.84")));

        Assert.Equal(2, report.FindingCount);
        Assert.Equal("1 of the 15 samples that were sealed are missing", report.Findings[1].Words);
        Assert.Equal("tube_current", report.Findings[1].Channel);
    }

    [Fact]
    public async Task A_line_put_in_is_told_as_added()
    {
        var report = await TamperAsync(lines =>
        {
            var place = Find(lines, "tube_current=18.84");
            return [.. lines[..place], "telemetry,machine=bay1 tube_current=18 1773043265000000000", .. lines[place..]];
        });

        Assert.Equal((1, "tube_current", "1 sample(s) were added to the 15 that were sealed"), (report.FindingCount, report.Findings[0].Channel, report.Findings[0].Words));
    }

    [Fact]
    public async Task The_same_line_twice_is_told()
    {
        var report = await TamperAsync(lines => lines.SelectMany((line, i) => i == Find(lines, "tube_current=18.84") ? new[] { line, line } : [line]));

        Assert.Equal(2, report.FindingCount);
        Assert.All(report.Findings, finding => Assert.Equal(FindingKinds.Added, finding.What));
    }

    [Fact]
    public async Task Lines_that_stand_within_five_seconds_of_their_order_say_the_same()
    {
        var report = await TamperAsync(lines =>
        {
            var place = Find(lines, "tube_current=18.84");
            return [.. lines[..place], lines[place + 1], lines[place], .. lines[(place + 2)..]];
        });

        Assert.True(report.IsWhole);
    }

    [Fact]
    public async Task A_minute_taken_out_is_named()
    {
        var minute = SealedShop.At(0, 60);
        var report = await TamperAsync(lines => lines.Where(line => !line.StartsWith("telemetry", StringComparison.Ordinal) || TimeOf(line) < minute || TimeOf(line) >= minute + TimeSpan.FromMinutes(1)));

        Assert.Equal(
            ["2026-03-09T08:01:00Z, air_pressure: all 15 sample(s) of the minute are missing", "2026-03-09T08:01:00Z, tube_current: all 15 sample(s) of the minute are missing"],
            report.Findings.Select(finding => finding.ToString()));
    }

    [Fact]
    public async Task A_day_taken_out_is_told()
    {
        var day = SealedShop.FirstDay.AddDays(1);
        var report = await TamperAsync(lines => lines.Where(line => !line.StartsWith("telemetry", StringComparison.Ordinal) || UtcDay.Of(TimeOf(line)) != day));

        Assert.Equal(6, report.FindingCount);
        Assert.All(report.Findings, finding => Assert.Equal((day, FindingKinds.Missing), (finding.Day, finding.What)));
    }

    [Fact]
    public async Task A_day_taken_out_with_its_proof_is_told()
    {
        await using var shop = await SealedShop.CreateAsync();
        var proofless = Lines(await shop.RecordAsync()).Where(line =>
            !(line.StartsWith("# laserwatch-proof", StringComparison.Ordinal) && line.Contains("\"entry\":1,", StringComparison.Ordinal))
            && !(!line.StartsWith('#') && UtcDay.Of(TimeOf(line)) == SealedShop.FirstDay.AddDays(1))).ToArray();
        var end = Find(proofless, "\"part\":\"end\"");
        var count = int.Parse(proofless[end].Split(':')[^1].TrimEnd('}'));

        var report = SealedShop.Verify(Joined(Changed(proofless, end, $":{count}", $":{count - 2}")));

        Assert.Equal(["2026-03-10: this day was sealed, and days before and after it stand here, but it was taken out"], report.Findings.Select(finding => finding.ToString()));
    }

    [Theory]
    [InlineData("lens", "glass")]
    [InlineData("state=\"unacknowledged\"", "state=\"acknowledged\"")]
    [InlineData("event=\"end\"", "event=\"end\",note=\"x\"")]
    [InlineData("air_pressure=210,mode", "air_pressure=150,mode")]
    public async Task An_altered_event_is_named_by_its_line(string from, string to)
    {
        var place = 0;
        var report = await TamperAsync(lines => Changed(lines, place = Find(lines, from), from, to));

        Assert.Equal((1, FindingKinds.Altered, place + 1L), (report.FindingCount, report.Findings[0].What, report.Findings[0].FirstLine));
    }

    [Fact]
    public async Task An_event_taken_out_and_one_put_in_are_told()
    {
        Assert.Equal(FindingKinds.Missing, (await TamperAsync(lines => [.. lines.Where((_, i) => i != Find(lines, "lens"))])).Findings.Single().What);
        Assert.Equal(FindingKinds.Added, (await TamperAsync(lines => ["service,machine=bay1 part=\"tube\",action=\"replaced\" 1773043200000000000", .. lines])).Findings.Single().What);
    }

    [Theory]
    [InlineData("telemetry,machine=bay2 power=1 1773043200000000000")]
    [InlineData("weather,machine=bay1 rain=1 1773043200000000000")]
    [InlineData("telemetry,machine=bay1 power=\"much\" 1773043200000000000")]
    [InlineData("telemetry,machine=bay1,room=2 tube_current=1 1773043200000000000")]
    [InlineData("what is this")]
    public async Task A_line_of_something_else_is_told(string line) => Assert.False((await TamperAsync(lines => [line, .. lines])).IsWhole);

    [Fact]
    public async Task A_proof_signed_by_another_key_is_told_where_the_key_is_known()
    {
        await using var shop = await SealedShop.CreateAsync();
        var honest = shop.ReadLog().Head!.Fingerprint();
        var lines = Lines(await shop.RecordAsync());
        var head = shop.ReadLog().Head!;
        using var forger = SigningKey.Open(shop.Folder.KeyFile + ".other");
        var forged = LogHead.Sign(forger, head.Machine, head.Size, head.Root, head.At);

        var report = SealedShop.Verify(Joined(Changed(lines, Find(lines, "\"kind\":\"head\""), LogJson.Write(head), LogJson.Write(forged))), new VerificationDemands(honest));

        Assert.Equal([$"it is signed by the key {forger.Fingerprint}, not by {honest}"], report.Findings.Select(finding => finding.Words));
    }

    [Fact]
    public async Task A_log_that_lost_entries_does_not_continue_an_earlier_file()
    {
        await using var shop = await SealedShop.CreateAsync();
        var earlier = shop.ReadLog().Head;
        await using var other = new SealedShop();
        await other.AppendDayAsync(0);
        await other.AppendDayAsync(1);
        await other.SealAsync(3);

        var forged = SealedShop.Verify(await other.RecordAsync(), new VerificationDemands(Earlier: earlier));
        await shop.AppendDayAsync(3);
        await shop.SealAsync(5);
        var honest = SealedShop.Verify(await shop.RecordAsync(), new VerificationDemands(Earlier: earlier));

        Assert.Contains("entries were taken out", Assert.Single(forged.Findings).Words);
        Assert.Empty(honest.Findings);
    }

    [Fact]
    public async Task A_log_rewritten_from_the_start_does_not_continue_an_earlier_file()
    {
        await using var shop = await SealedShop.CreateAsync();
        await using var other = new SealedShop();
        for (var day = 0; day < 4; day++)
            await other.AppendDayAsync(day);
        await other.AddSampleAsync(0, 1, 99);
        await other.SealAsync(5);

        var report = SealedShop.Verify(await other.RecordAsync(), new VerificationDemands(Earlier: shop.ReadLog().Head));

        Assert.Equal(["the log is not a continuation of that in the earlier file: its first 3 entries are others"], report.Findings.Select(finding => finding.Words));
    }

    [Fact]
    public async Task The_proof_of_one_day_shows_nothing_for_another()
    {
        var report = await TamperAsync(lines =>
        {
            var (first, second) = (Find(lines, "\"part\":\"day\",\"entry\":0"), Find(lines, "\"part\":\"day\",\"entry\":1"));
            var swapped = lines.ToArray();
            swapped[first] = lines[second].Replace("\"entry\":1", "\"entry\":0", StringComparison.Ordinal);
            swapped[first + 1] = lines[second + 1].Replace("\"entry\":1", "\"entry\":0", StringComparison.Ordinal);
            return swapped;
        });

        Assert.NotEmpty(report.Findings);
        Assert.All(report.Findings, finding => Assert.Equal(SealedShop.FirstDay, finding.Day));
    }

    [Fact]
    public async Task The_proof_of_a_revision_that_was_replaced_is_refused()
    {
        await using var shop = await SealedShop.CreateAsync();
        var old = Lines(await shop.RecordAsync());
        await shop.AddSampleAsync(1, 200, 5);
        await shop.SealAsync(4);
        var now = Lines(await shop.RecordAsync());
        var swapped = now.Where(line => !line.Contains("tube_current=5 ", StringComparison.Ordinal)).ToArray();
        foreach (var (from, to) in ((string, string)[])[("\"part\":\"day\",\"entry\":3", "\"part\":\"day\",\"entry\":1"), ("\"part\":\"leaves\",\"entry\":3", "\"part\":\"leaves\",\"entry\":1")])
            swapped[Find(swapped, from)] = old[Find(old, to)];

        Assert.Empty(SealedShop.Verify(Joined(now)).Findings);
        var finding = Assert.Single(SealedShop.Verify(Joined(swapped)).Findings);
        Assert.Equal("the proof is of the log's entry 1, which entry 3 replaced (1 sample(s) came after the day was sealed)", finding.Words);
    }

    [Fact]
    public async Task A_value_altered_in_the_store_is_told_by_its_day()
    {
        await using var shop = await SealedShop.CreateAsync();
        await using var altered = new SealedShop();
        for (var day = 0; day < 3; day++)
            await altered.AppendDayAsync(day);
        await altered.AddSampleAsync(1, 2, 20);
        using var bytes = new MemoryStream();
        var extent = await Recordings.RecordingWriter.WriteAsync(
            altered.Store, "bay1", Telemetry.Instant.MinValue, Telemetry.Instant.MaxValue, bytes, shop.Folder, CancellationToken.None);

        var report = SealedShop.Verify(bytes.ToArray());

        Assert.Equal([SealedShop.FirstDay.AddDays(1)], extent.Proof.Differing);
        Assert.Equal(SealedShop.FirstDay.AddDays(1), Assert.Single(report.Findings).Day);
    }
}
