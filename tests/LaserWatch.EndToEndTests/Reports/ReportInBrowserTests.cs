using LaserWatch.Benchmarks.Speed;
using PuppeteerSharp;
using PuppeteerSharp.Media;

namespace LaserWatch.Reports;

/// <summary>The report in a real Chromium: as it is read on a telephone and a desk, in both schemes, and printed.</summary>
[Collection(Alone.Name)]
public sealed class ReportInBrowserTests : IAsyncLifetime
{
    /// <summary>What reaches beyond the page; wide tables scroll within their own frame.</summary>
    private const string Overflow = """
        (() => { const d = document.documentElement, bad = [];
          if (d.scrollWidth > d.clientWidth) bad.push('page ' + d.scrollWidth + ' > ' + d.clientWidth);
          for (const e of document.querySelectorAll('body *')) {
            if (e.closest('svg') || (e.closest('.table') && !e.matches('.table')) || getComputedStyle(e).position === 'absolute') continue;
            const r = e.getBoundingClientRect();
            if (r.width > 0 && (r.right > d.clientWidth + 0.5 || r.left < -0.5)) bad.push(e.tagName + '.' + e.className + ' ' + r.left + ' to ' + r.right);
          }
          return bad.join('\n'); })()
        """;

    /// <summary>Texts of drawings that overlap, are cut off, or are smaller than LEAST pixels.</summary>
    private const string Drawings = """
        (() => { const bad = [];
          for (const svg of document.querySelectorAll('svg')) {
            if (svg.getBoundingClientRect().width === 0) continue;
            const view = svg.viewBox.baseVal, scale = svg.getBoundingClientRect().width / view.width;
            const texts = [...svg.querySelectorAll('text')].map(t => ({ t: t.textContent, b: t.getBBox(), s: parseFloat(getComputedStyle(t).fontSize) * scale }));
            texts.forEach((a, i) => {
              if (a.s < LEAST) bad.push(svg.id + ': "' + a.t + '" is ' + a.s + ' px');
              if (a.b.x < -1 || a.b.y < -1 || a.b.x + a.b.width > view.width + 1 || a.b.y + a.b.height > view.height + 1) bad.push(svg.id + ': "' + a.t + '" is cut off');
              for (const c of texts.slice(i + 1)) {
                const x = Math.min(a.b.x + a.b.width, c.b.x + c.b.width) - Math.max(a.b.x, c.b.x), y = Math.min(a.b.y + a.b.height, c.b.y + c.b.height) - Math.max(a.b.y, c.b.y);
                if (x > 1 && y > 3) bad.push(svg.id + ': "' + a.t + '" lies on "' + c.t + '"');
              }
            });
          }
          return bad.join('\n'); })()
        """;

    private IBrowser? _browser;

    public static TheoryData<int, bool> Screens => new() { { 360, false }, { 360, true }, { 768, false }, { 1280, false }, { 1280, true } };

    public async Task InitializeAsync()
    {
        if (Installed.Browser() is { } chromium)
            _browser = await Puppeteer.LaunchAsync(new LaunchOptions { ExecutablePath = chromium, Headless = true, Args = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"] });
    }

    public async Task DisposeAsync()
    {
        if (_browser is not null)
            await _browser.DisposeAsync();
    }

    [SkippableTheory]
    [MemberData(nameof(Screens))]
    public async Task Nothing_overflows_overlaps_or_is_too_small_to_read(int width, bool dark)
    {
        foreach (var report in new[] { ConstructedReport.Full(), ConstructedReport.Full(2), ConstructedReport.Empty() })
        {
            await using var page = await OpenAsync(report, width, dark);

            Assert.Equal("", await page.EvaluateExpressionAsync<string>(Overflow));
            Assert.Equal("", await page.EvaluateExpressionAsync<string>(Drawings.Replace("LEAST", "9", StringComparison.Ordinal)));
        }
    }

    [SkippableFact]
    public async Task On_paper_every_text_of_a_drawing_has_eight_points()
    {
        await using var page = await OpenAsync(ConstructedReport.Full(), 658, dark: false);
        await page.EmulateMediaTypeAsync(MediaType.Print);

        // 8 pt are 10.67 px; 658 px are what A4 leaves between its margins.
        Assert.Equal("", await page.EvaluateExpressionAsync<string>(Drawings.Replace("LEAST", "10.66", StringComparison.Ordinal)));
    }

    [SkippableFact]
    public async Task The_scheme_of_the_reader_is_followed()
    {
        await using var light = await OpenAsync(ConstructedReport.Full(2), 800, dark: false);
        await using var dark = await OpenAsync(ConstructedReport.Full(2), 800, dark: true);
        const string Ground = "getComputedStyle(document.body).backgroundColor";

        Assert.Equal(("rgb(253, 253, 252)", "rgb(20, 24, 26)"), (await light.EvaluateExpressionAsync<string>(Ground), await dark.EvaluateExpressionAsync<string>(Ground)));
    }

    [SkippableTheory]
    [InlineData("A4")]
    [InlineData("letter")]
    public async Task It_prints_to_a_few_pages(string paper)
    {
        var browser = Needs.Browser();
        var folder = Directory.CreateTempSubdirectory("laserwatch-report-");
        try
        {
            var pdf = Path.Combine(folder.FullName, "report.pdf");

            Assert.Null(await PagePrinter.PrintAsync(browser, HtmlReport.Print(ConstructedReport.Full()), paper, pdf, CancellationToken.None));
            var text = await File.ReadAllTextAsync(pdf, System.Text.Encoding.Latin1);
            var pages = text.Split("/Type /Page\n").Length - 1;
            Assert.InRange(pages, 3, 20);
            Assert.Contains(paper == "A4" ? "/MediaBox [0 0 594.95996 841.91998]" : "/MediaBox [0 0 612 792]", text, StringComparison.Ordinal);
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    [Fact]
    public async Task A_browser_that_is_not_there_is_told_and_leaves_no_file()
    {
        var pdf = Path.Combine(Path.GetTempPath(), $"laserwatch-{Guid.NewGuid():N}.pdf");

        Assert.NotNull(await PagePrinter.PrintAsync("/nowhere/chromium", "<html></html>", "A4", pdf, CancellationToken.None));
        Assert.False(File.Exists(pdf));
    }

    private async Task<IPage> OpenAsync(EvidenceReport report, int width, bool dark)
    {
        Needs.Browser();
        var page = await _browser!.NewPageAsync();
        await page.SetJavaScriptEnabledAsync(false);
        await page.SetViewportAsync(new ViewPortOptions { Width = width, Height = 900 });
        await page.EmulateMediaFeaturesAsync([new MediaFeatureValue { MediaFeature = MediaFeature.PrefersColorScheme, Value = dark ? "dark" : "light" }]);
        await page.SetContentAsync(HtmlReport.Print(report));
        return page;
    }
}
