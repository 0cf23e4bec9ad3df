using System.Text.Json.Nodes;
using System.Text.RegularExpressions;
using Json.Schema;
using LaserWatch.Configuration;

namespace LaserWatch.Pages;

/// <summary>What the pages show can be done: links lead somewhere, settings keep to the schema, commands are run or say why not.</summary>
public sealed partial class PageTests
{
    public static TheoryData<string> Pages => [.. PageBlock.Pages];

    [Theory]
    [MemberData(nameof(Pages))]
    public void A_command_is_run_by_a_test_or_says_why_it_is_not(string page)
    {
        foreach (var block in PageBlock.Read(page).Where(b => b.IsShell))
            Assert.True(block.Info is "sh" or "sh background" || block.ExitStatus == 1 || block.ByHand is { Length: > 8 }, $"{block}: '{block.Info}' is no kind of block that the tests know.");
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void A_link_to_a_file_leads_to_one(string page)
    {
        var folder = Path.GetDirectoryName(Path.Combine(Repository.Folder, page))!;
        foreach (Match link in Link().Matches(File.ReadAllText(Path.Combine(Repository.Folder, page))))
        {
            var target = link.Groups[1].Value.Split('#')[0];
            if (target.Length == 0 || target.Contains("://", StringComparison.Ordinal))
                continue;
            var path = Path.Combine(folder, target);
            Assert.True(File.Exists(path) || Directory.Exists(path), $"{page}: the link to {target} leads nowhere.");
        }
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void Settings_that_a_page_shows_keep_to_the_schema(string page)
    {
        var schema = JsonSchema.FromText(File.ReadAllText(Path.Combine(Repository.Folder, "config", "laserwatch.schema.json")));
        foreach (var block in PageBlock.Read(page).Where(b => b.Info == "json" && b.Text.StartsWith('"')))
        {
            var settings = JsonNode.Parse("{" + block.Text + "}");

            Assert.True(schema.Evaluate(System.Text.Json.JsonSerializer.SerializeToElement(settings)).IsValid, $"{block}: the schema does not take it.");
        }
    }

    [Fact]
    public void The_readme_is_short()
    {
        var text = File.ReadAllText(Path.Combine(Repository.Folder, "README.md"));

        Assert.InRange(text.Split('\n').Length, 1, 200);
        Assert.InRange(text.Split([' ', '\n'], StringSplitOptions.RemoveEmptyEntries).Length, 1, 1800);
    }

    [GeneratedRegex(@"\]\(([^)\s]+)\)")]
    private static partial Regex Link();
}
