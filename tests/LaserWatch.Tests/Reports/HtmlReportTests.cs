using System.Runtime.CompilerServices;
using System.Text.RegularExpressions;
using System.Xml.Linq;

namespace LaserWatch.Reports;

/// <summary>To write the golden file anew after a change of words or style, run these tests with LASERWATCH_REWRITE_GOLDEN=1.</summary>
public partial class HtmlReportTests
{
    private static readonly XNamespace Html = "http://www.w3.org/1999/xhtml";
    private static readonly XNamespace Svg = "http://www.w3.org/2000/svg";

    public static TheoryData<string> Pages => [.. All.Keys];

    private static Dictionary<string, EvidenceReport> All => new()
    {
        ["full"] = ConstructedReport.Full(),
        ["two months"] = ConstructedReport.Full(2),
        ["nothing known"] = ConstructedReport.Empty(),
        ["no trend"] = ConstructedReport.Full(1) with { Current = ConstructedReport.Trend(2) },
        ["strange words"] = ConstructedReport.Full(1) with
        {
            Identity = new Identity { TubeSerial = "</title><script>alert(1)</script>", Shop = "\u0000\ud800 ]]> --> & \" '", Terms = new string('W', 4000) },
        },
    };

    [Fact]
    public void A_report_is_printed_as_its_golden_file()
    {
        var printed = HtmlReport.Print(ConstructedReport.Full(2));
        var golden = Path.Combine(Here(), "Golden", "report.html");
        if (Environment.GetEnvironmentVariable("LASERWATCH_REWRITE_GOLDEN") == "1")
            File.WriteAllText(golden, printed);

        Assert.Equal(File.ReadAllText(golden), printed);
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void A_page_is_well_formed_and_every_identifier_stands_once(string page)
    {
        var ids = Read(page).Descendants().Select(e => e.Attribute("id")?.Value).OfType<string>().ToList();

        Assert.Equal(ids.Distinct(), ids);
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void Headings_come_in_order_and_no_level_is_left_out(string page)
    {
        var levels = Read(page).Descendants().Where(e => HeadingName().IsMatch(e.Name.LocalName)).Select(e => e.Name.LocalName[1] - '0').ToList();

        Assert.Equal(1, levels[0]);
        Assert.Single(levels, 1);
        Assert.All(levels.Zip(levels.Skip(1)), pair => Assert.True(pair.Second <= pair.First + 1, $"h{pair.Second} comes after h{pair.First}"));
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void Every_drawing_has_a_title_and_a_description_and_names_them(string page)
    {
        foreach (var svg in Read(page).Descendants(Svg + "svg"))
        {
            Assert.NotEmpty(svg.Element(Svg + "title")!.Value);
            Assert.NotEmpty(svg.Element(Svg + "desc")!.Value);
            Assert.Equal($"{svg.Element(Svg + "title")!.Attribute("id")!.Value} {svg.Element(Svg + "desc")!.Attribute("id")!.Value}", svg.Attribute("aria-labelledby")!.Value);
        }
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void Every_table_has_a_caption_and_headings_with_their_scope(string page)
    {
        foreach (var table in Read(page).Descendants(Html + "table"))
        {
            Assert.NotEmpty(table.Element(Html + "caption")!.Value);
            Assert.NotEmpty(table.Descendants(Html + "th"));
            Assert.All(table.Descendants(Html + "th"), th => Assert.Contains(th.Attribute("scope")!.Value, new[] { "row", "col" }));
            var columns = table.Descendants(Html + "tr").Select(row => row.Elements().Count()).Distinct();
            Assert.Single(columns);
        }
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void Nothing_is_fetched_and_nothing_runs(string page)
    {
        var text = HtmlReport.Print(All[page]);
        var document = XDocument.Parse(text);

        Assert.DoesNotContain(document.Descendants(), e => e.Name.LocalName is "script" or "link" or "img" or "iframe" or "object" or "embed" or "base");
        Assert.DoesNotContain(document.Descendants().Attributes(), a => a.Name.LocalName.StartsWith("on", StringComparison.OrdinalIgnoreCase) || a.Name.LocalName is "src" or "style");
        Assert.All(document.Descendants().Attributes("href"), a => Assert.StartsWith("#", a.Value));
        Assert.Empty(ExternalUrl().Matches(text.Replace(Html.NamespaceName, "").Replace(Svg.NamespaceName, "")));
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void Every_link_leads_to_a_place_in_the_page(string page)
    {
        var document = Read(page);
        var ids = document.Descendants().Attributes("id").Select(a => a.Value).ToHashSet();

        Assert.All(document.Descendants().Attributes("href"), a => Assert.Contains(a.Value[1..], ids));
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void Figures_are_rounded_for_reading(string page) =>
        Assert.DoesNotContain(Read(page).Root!.Element(Html + "body")!.DescendantNodes().OfType<XText>(), text => ManyDigits().IsMatch(text.Value));

    [Fact]
    public void Words_of_the_shop_come_out_as_they_were_written()
    {
        var page = HtmlReport.Print(ConstructedReport.Full());

        Assert.Contains("&lt;Claims&gt; need serial &amp; &quot;installation&quot; date.", page, StringComparison.Ordinal);
        Assert.Contains("Ω ≥ 5 — очищено, レンズ清掃", page, StringComparison.Ordinal);
    }

    [Fact]
    public void What_nobody_stated_is_said_to_be_not_stated()
    {
        var facts = Read("nothing known").Descendants(Html + "tr").ToDictionary(row => row.Elements().First().Value, row => row.Elements().Last().Value);

        Assert.Equal(
            Enumerable.Repeat("not stated", 9),
            new[] { "Shop", "Tube maker", "Tube model", "Tube serial number", "High-voltage supply", "Purchased", "Put in", "Claim reference", "Rated current" }.Select(name => facts[name]));
    }

    private static XDocument Read(string page) => XDocument.Parse(HtmlReport.Print(All[page]));

    private static string Here([CallerFilePath] string here = "") => Path.GetDirectoryName(here)!;

    [GeneratedRegex("^h[1-6]$")]
    private static partial Regex HeadingName();

    [GeneratedRegex(@"(https?:)?//[a-z0-9]|url\(|@import", RegexOptions.IgnoreCase)]
    private static partial Regex ExternalUrl();

    [GeneratedRegex(@"\d\.\d{5,}")]
    private static partial Regex ManyDigits();
}
