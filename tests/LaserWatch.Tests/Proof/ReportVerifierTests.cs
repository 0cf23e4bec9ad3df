using System.Text;
using LaserWatch.Demo;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Proof;

/// <summary>The page that the verb wrote from a sealed store; made once, since it takes seconds.</summary>
public sealed class SealedPage : IAsyncLifetime
{
    public string Folder { get; } = Directory.CreateTempSubdirectory("laserwatch").FullName;

    public string Store => Path.Combine(Folder, "bay1.db");

    public byte[] Bytes { get; private set; } = [];

    public async Task InitializeAsync()
    {
        await FillAsync();
        var page = Path.Combine(Folder, "bay1.html");
        using var error = new StringWriter();
        Assert.True(await Program.RunAsync(["report", "bay1", "--out", page, "--store", Store], TextWriter.Null, error, default) == 0, error.ToString());
        Bytes = await File.ReadAllBytesAsync(page);
    }

    public Task DisposeAsync()
    {
        Directory.Delete(Folder, recursive: true);
        return Task.CompletedTask;
    }

    private async Task FillAsync()
    {
        var scenario = new TubeLifeScenario();
        using var recording = new MemoryStream();
        AttendedRecording.Write(recording, "bay1", scenario.Jobs, new SimulatedMachine(scenario.MachineOptions).Run(scenario.Shifts.Take(9)));
        recording.Position = 0;

        var options = new StoreOptions { Path = Store };
        await using var store = SqliteTelemetryStore.Open(options);
        var import = new RecordingImport(store);
        using var reader = new RecordingReader(recording, new ChannelTable());
        await new Replay(reader, new Shop(_ => MonitorOptions.Default, new JobBook()), _ => { }) { Import = import }.RunAsync(null, null, default);
        await import.CompleteAsync(default);
        await new EvidenceKeeper(options, new EvidenceOptions(), NullLogger.Instance).SealAsync(store, import.Newest!.Value + TimeSpan.FromDays(2), default);
    }
}

public class ReportVerifierTests(SealedPage sealedPage) : IClassFixture<SealedPage>
{


    private readonly byte[] _page = sealedPage.Bytes;

    [Fact]
    public void The_page_as_it_was_written_is_whole_and_carries_raw_samples()
    {
        var report = Verify(_page);

        Assert.Empty(report.Findings);
        Assert.True(report.IsWhole);
        Assert.Equal(("report", "bay1"), (report.Content, report.Machine));
        Assert.True(report.Samples > 500 && report.Days >= 8, $"{report.Samples} samples of {report.Days} days");
        Assert.NotNull(report.Made);
    }

    [Fact]
    public void An_altered_sample_is_named_by_minute_channel_and_line_of_the_file()
    {
        var text = Encoding.UTF8.GetString(_page);
        var line = text.IndexOf("telemetry,machine=bay1", text.IndexOf("laserwatch-annex", StringComparison.Ordinal), StringComparison.Ordinal);
        line = text.IndexOf("coolant_in=", line, StringComparison.Ordinal);

        var report = Verify(Encoding.UTF8.GetBytes(text[..line] + "coolant_in=9" + text[(line + "coolant_in=".Length)..]));

        var finding = report.Findings.First(f => f.Channel is not null);
        Assert.Equal((FindingKinds.Altered, "coolant_in", "annex"), (finding.What, finding.Channel, finding.Section));
        Assert.InRange(text[..line].Count(c => c == '\n') + 1, finding.FirstLine!.Value, finding.LastLine!.Value);
    }

    [Fact]
    public void A_removed_sample_line_is_named()
    {
        var text = Encoding.UTF8.GetString(_page);
        var line = text.IndexOf("\ntelemetry,machine=bay1", text.IndexOf("laserwatch-annex", StringComparison.Ordinal) + 200, StringComparison.Ordinal);
        var report = Verify(Encoding.UTF8.GetBytes(text.Remove(line, text.IndexOf('\n', line + 1) - line)));

        Assert.Contains(report.Findings, finding => finding is { What: FindingKinds.Missing, Section: "annex", Channel: not null });
    }

    [Theory]
    [InlineData("<section id=\"age\"", "age")]
    [InlineData("<section id=\"service\"", "service")]
    [InlineData("<section id=\"proof\"", "proof")]
    public void A_changed_word_is_named_by_its_section(string opening, string id)
    {
        var text = Encoding.UTF8.GetString(_page);
        var place = text.IndexOf('>', text.IndexOf(opening, StringComparison.Ordinal)) + 1;

        var finding = Assert.Single(Verify(Encoding.UTF8.GetBytes(text.Insert(place, "!"))).Findings);

        Assert.Equal((FindingKinds.Altered, id), (finding.What, finding.Section));
    }

    [Fact]
    public void A_section_or_the_annex_or_the_seal_taken_out_is_missed()
    {
        var text = Encoding.UTF8.GetString(_page);

        Assert.Contains(Verify(Encoding.UTF8.GetBytes(Without(text, "<section id=\"gaps\"", "</section>"))).Findings, f => f is { What: FindingKinds.Missing, Section: "gaps" });
        Assert.Contains(Verify(Encoding.UTF8.GetBytes(Without(text, "<script type=\"text/plain\"", "</script>"))).Findings, f => f.What == FindingKinds.Missing);
        Assert.Contains(Verify(Encoding.UTF8.GetBytes(Without(text, "<script type=\"application/json\"", "</script>"))).Findings, f => f.What == FindingKinds.Signature);
    }

    [Fact]
    public void Signed_anew_by_another_key_it_is_not_whole()
    {
        var text = Without(Encoding.UTF8.GetString(_page), "<script type=\"application/json\"", "</script>\n").Replace("T-000001", "T-000009", StringComparison.Ordinal);
        using var other = SigningKey.Open(Path.Combine(Directory.CreateDirectory(Path.Combine(sealedPage.Folder, "other")).FullName, "key.pem"));

        var report = Verify(Encoding.UTF8.GetBytes(DocumentSeal.Seal(text, "bay1", "2026-01-01T00:00:00Z", other)));

        Assert.Contains("another key", Assert.Single(report.Findings).Words, StringComparison.Ordinal);
    }

    [Fact]
    public void A_page_without_seal_and_annex_carries_no_proof()
    {
        var report = Verify("<!DOCTYPE html>\n<html><body><p>Report</p></body></html>"u8.ToArray());

        Assert.False(report.HasProof);
        Assert.False(report.IsWhole);
    }

    [Fact]
    public void One_byte_changed_anywhere_is_seen()
    {
        var random = new Random(20_260_309);
        for (var i = 0; i < 150; i++)
        {
            var changed = _page.ToArray();
            var place = random.Next(changed.Length);
            changed[place] ^= (byte)(1 << random.Next(8));

            Assert.False(Verify(changed).IsWhole, $"byte {place} was changed unseen");
        }
    }

    [Fact]
    public async Task The_verb_says_so_by_its_exit_status()
    {
        var file = Path.Combine(sealedPage.Folder, "copy.html");
        await File.WriteAllBytesAsync(file, _page);
        using var output = new StringWriter();
        Assert.Equal(0, await Program.RunAsync(["verify", file], output, TextWriter.Null, default));
        Assert.Contains("WHOLE", output.ToString(), StringComparison.Ordinal);

        await File.WriteAllBytesAsync(file, [.. _page, (byte)' ']);
        Assert.Equal(1, await Program.RunAsync(["verify", file], TextWriter.Null, TextWriter.Null, default));
        using var json = new StringWriter();
        Assert.Equal(1, await Program.RunAsync(["verify", file, "--format", "json"], json, TextWriter.Null, default));
        SentKeys.HoldIn(json.ToString());
        Assert.Equal(3, await Program.RunAsync(["verify", file + ".not-there"], TextWriter.Null, TextWriter.Null, default));
    }

    private static VerificationReport Verify(byte[] page) => ReportVerifier.Verify(page, VerificationDemands.None);

    private static string Without(string text, string from, string to)
    {
        var begin = text.IndexOf(from, StringComparison.Ordinal);
        return text.Remove(begin, text.IndexOf(to, begin, StringComparison.Ordinal) + to.Length - begin);
    }
}
