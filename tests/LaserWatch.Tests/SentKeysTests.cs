using System.Text.RegularExpressions;
using LaserWatch.Configuration;
using LaserWatch.Proof;

namespace LaserWatch;

/// <summary>One casing for all JSON that others read. Tests of each verb and topic hold what they print to it too, by <see cref="SentKeys"/>.</summary>
public partial class SentKeysTests
{
    /// <summary>They write what a person puts into a configuration file: its keys are the file's.</summary>
    private static readonly string[] WritersOfConfiguration = ["CaseDraft.cs", "JobsCommand.cs"];

    [Fact]
    public void Every_key_that_the_program_writes_is_in_snake_case()
    {
        List<string> keys = [], strangers = [];
        foreach (var file in Directory.EnumerateFiles(Path.Combine(Repository.Folder, "src"), "*.cs", SearchOption.AllDirectories))
        {
            if (file.Contains($"{Path.DirectorySeparatorChar}obj{Path.DirectorySeparatorChar}", StringComparison.Ordinal) || WritersOfConfiguration.Contains(Path.GetFileName(file)))
                continue;
            var code = File.ReadAllText(file);
            var isOfNodes = code.Contains("new JsonObject", StringComparison.Ordinal) || code.Contains("DetailsJson.Of(", StringComparison.Ordinal);
            foreach (Match key in (isOfNodes ? KeyOfNode : WrittenKey).Matches(code))
            {
                keys.Add(key.Groups[1].Value);
                if (!SentKeys.IsSnakeCase(key.Groups[1].Value))
                    strangers.Add($"{Path.GetFileName(file)}: {key.Groups[1].Value}");
            }
        }

        Assert.InRange(keys.Distinct().Count(), 150, int.MaxValue); // or the pattern meets nothing
        Assert.Empty(strangers);
    }

    [Fact]
    public void Golden_answers_of_the_command_line_have_keys_in_snake_case()
    {
        var answers = Directory.GetFiles(Path.Combine(Repository.Folder, "tests", "LaserWatch.Tests", "Cli", "Golden"), "*.json");

        Assert.InRange(answers.Length, 3, int.MaxValue);
        Assert.All(answers, file => SentKeys.HoldIn(File.ReadAllText(file)));
    }

    [Fact]
    public void Lines_of_a_proof_have_keys_in_snake_case()
    {
        var tree = new SealedTree(2, default, new() { ["air_pressure"] = 2 });
        SentKeys.HoldIn(LogJson.Write(new DayEntry(DayEntry.KindName, 0, "bay1", new(2026, 3, 9), 1, tree, tree, tree, "2026-03-10T01:00:00Z", 0, "late samples")));
        SentKeys.HoldIn(LogJson.Write(new LogHead(LogHead.KindName, "bay1", 1, default, "2026-03-10T01:00:00Z", "", "")));
        SentKeys.HoldIn(LogJson.Write(new ProofDay(ProofDay.Name, 0, ProofRange.None, ProofRange.None, ProofRange.None, default)));
    }

    [Theory]
    [InlineData("{\"watchFrom\":1}")]
    [InlineData("{\"a\":[{\"tube-current\":1}]}")]
    [InlineData("{\"channels\":{\"any-Name\":{\"lastValue\":1}}}")]
    public void A_key_that_is_not_in_snake_case_is_found_wherever_it_stands(string json) =>
        Assert.ThrowsAny<Xunit.Sdk.XunitException>(() => SentKeys.HoldIn(json));

    // json.WriteString("key", …), Number(json, "key", …), new Evidence("key", …).
    [GeneratedRegex("""(?:\b[Jj]son\.Write\w+\(|\(json, |new Evidence\()"([^"\\/]+)"(?=[,)])""")]
    private static partial Regex WrittenKey { get; }

    // ["key"] = … of a JSON node, ("key", …) of an export's details.
    [GeneratedRegex("""(?:[{\s]\["|\("(?=\w+"))([^"\\/]+)"(?=, |\] = )""")]
    private static partial Regex KeyOfNode { get; }
}
