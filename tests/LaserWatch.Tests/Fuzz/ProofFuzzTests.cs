using System.Text;
using LaserWatch.Cli;
using LaserWatch.Proof;
using Xunit.Abstractions;

namespace LaserWatch.Fuzz;

/// <summary>Proofs that somebody may have tampered with: whatever is changed, the check comes to an end and says what it found.</summary>
public sealed class ProofFuzzTests(ITestOutputHelper output) : IAsyncLifetime, IAsyncDisposable
{
    private static readonly string[] Words =
        ["{\"kind\":\"day\",", "{\"kind\":\"head\",", "{\"kind\":\"stamp\",", "\"number\":", "\"size\":", "# ", "<script", "</script>", "\"counts\":{}", "\"root\":\"00\"", "laserwatch proof"];

    private readonly SealedShop _shop = new();

    public async Task InitializeAsync()
    {
        await _shop.AppendDayAsync(0);
        await _shop.SealAsync(1);
        await _shop.AppendDayAsync(1);
        await _shop.SealAsync(3);
    }

    public async Task DisposeAsync() => await _shop.DisposeAsync();

    ValueTask IAsyncDisposable.DisposeAsync() => _shop.DisposeAsync();

    [Fact]
    public async Task A_recording_with_its_proof_changed_anywhere_is_checked_to_the_end()
    {
        var recording = await _shop.RecordAsync();
        new Fuzzing(output, [recording], Words, bytes => Check(() => RecordingVerifier.Verify(() => new MemoryStream(bytes), VerificationDemands.None))).Run(cases: 500);
    }

    [Fact]
    public async Task A_page_changed_anywhere_is_checked_to_the_end()
    {
        // A whole report is tens of times as long, and no more to the verifier.
        using var key = SigningKey.Open(_shop.Folder.KeyFile);
        var annexed = DocumentSeal.WithAnnex("<!DOCTYPE html>\n<html><body>\n<section id=\"summary\">18 mA</section>\n</body></html>\n", Encoding.UTF8.GetString(await _shop.RecordAsync()));
        var page = Encoding.UTF8.GetBytes(DocumentSeal.Seal(annexed, "bay1", "2026-03-12T12:00:00Z", key));
        Assert.True(ReportVerifier.Verify(page, VerificationDemands.None).IsWhole);
        new Fuzzing(output, [page], [.. Words, DocumentSeal.AnnexOpen, DocumentSeal.SealOpen, "<section id=\"summary\">", "</section>"], bytes => Check(() =>
        {
            _ = ReportVerifier.IsPage(bytes);
            var report = ReportVerifier.Verify(bytes, VerificationDemands.None);
            Assert.Equal(bytes.AsSpan().SequenceEqual(page), report.IsWhole); // no byte can be changed unseen
            return report;
        })).Run(cases: 500);
    }

    [Fact]
    public void A_seal_spelled_otherwise_is_not_the_one_that_was_signed()
    {
        using var key = SigningKey.Open(_shop.Folder.KeyFile);
        var page = DocumentSeal.Seal("<html><body><section id=\"b\">1</section><section id=\"a\">2</section></body></html>", "bay1", "2026-03-12T12:00:00Z", key);
        var sections = page[page.IndexOf("\"sections\":{", StringComparison.Ordinal)..];
        var pairs = sections[12..sections.IndexOf('}', StringComparison.Ordinal)].Split(',');

        var kept = Findings(page);
        Assert.NotEqual(kept, Findings(page.Replace("\"kind\":\"seal\"", "\"kind\":\"sea\"", StringComparison.Ordinal)));
        Assert.NotEqual(kept, Findings(page.Replace($"{pairs[0]},{pairs[1]}", $"{pairs[1]},{pairs[0]}", StringComparison.Ordinal)));

        static string Findings(string page) => string.Join('\n', ReportVerifier.Verify(Encoding.UTF8.GetBytes(page), VerificationDemands.None).Findings);
    }

    [Fact]
    public void Lines_of_the_log_are_taken_or_refused_in_words()
    {
        var lines = File.ReadAllBytes(Directory.GetFiles(_shop.Folder.Path, "*", SearchOption.AllDirectories).First(file => File.ReadAllText(file).Contains("{\"kind\":\"day\"", StringComparison.Ordinal)));
        new Fuzzing(output, [lines], Words, bytes =>
        {
            var log = new LogContent("bay1");
            foreach (var line in Encoding.Latin1.GetString(bytes).Split('\n'))
            {
                if (log.Take(Encoding.Latin1.GetBytes(line)) is { } wrong)
                    Fuzzing.AssertSayable(wrong);
            }

            foreach (var (head, _) in log.Heads)
                _ = head.Holds();
            _ = log.HasStrayStamp;
        }).Run(cases: 3_000);
    }

    private static void Check(Func<VerificationReport> verify)
    {
        try
        {
            var report = verify();
            var text = new StringWriter { NewLine = "\n" };
            VerificationText.Print(report, text);
            Assert.DoesNotContain(text.ToString(), c => char.IsControl(c) && c != '\n');
            Assert.All(report.Findings, finding => Fuzzing.AssertSayable(finding.ToString()));
            Assert.All(report.NotCovered, Fuzzing.AssertSayable);
        }
        catch (Exception damaged) when (damaged is IOException or InvalidDataException)
        {
            Fuzzing.AssertSayable(damaged.Message);
        }
    }
}
