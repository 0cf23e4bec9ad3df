using LaserWatch.Alarms;
using LaserWatch.Configuration;

namespace LaserWatch.Rules;

/// <summary>The README's table of conditions is the rule book's. To write it anew, run this with LASERWATCH_REWRITE_GOLDEN=1.</summary>
public class ConditionsTableTests
{
    private const string Begin = "<!-- conditions: made by ConditionsTableTests -->\n";
    private const string End = "<!-- end of conditions -->\n";

    [Fact]
    public void The_table_in_the_readme_is_the_rule_books()
    {
        var path = Path.Combine(Repository.Folder, "README.md");
        var readme = File.ReadAllText(path).ReplaceLineEndings("\n");
        var (begin, end) = (readme.IndexOf(Begin, StringComparison.Ordinal) + Begin.Length, readme.IndexOf(End, StringComparison.Ordinal));
        if (Environment.GetEnvironmentVariable("LASERWATCH_REWRITE_GOLDEN") == "1")
        {
            readme = readme[..begin] + Table() + readme[end..];
            File.WriteAllText(path, readme);
            end = begin + Table().Length;
        }

        Assert.Equal(Table(), readme[begin..end]);
    }

    private static string Table() =>
        "| condition | raised when (defaults) | priority |\n|---|---|---|\n"
        + string.Concat(RuleBook.Sheets.Select(sheet => $"| `{sheet.Condition}` | {sheet.Judged} | {Priority(sheet)} |\n"))
        + "| `NAME-out-of-limits` | The channel is outside limits of your own (`rules.limits`). | yours |\n";

    private static string Priority(RuleSheet sheet)
    {
        var priorities = sheet.Weights.Select(weight => Priorities.Of(weight.Consequence, weight.Time)).Distinct().Order().ToList();
        return priorities.Count == 1 ? priorities[0].Name() : $"{priorities[0].Name()} to {priorities[^1].Name()}";
    }
}
