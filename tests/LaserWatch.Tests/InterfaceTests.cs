using System.CommandLine;
using LaserWatch.Alarms;
using LaserWatch.Cli;
using LaserWatch.Configuration;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch;

/// <summary>Holds the tables of config/interface.md to the program's own lists.</summary>
public class InterfaceTests
{
    private static readonly string[] Page = File.ReadAllLines(Path.Combine(Repository.Folder, "config", "interface.md"));

    [Fact]
    public void The_channels_and_their_units_are_the_programs() => Assert.Equal(
        Channel.Canonical.Select(c => (c.Name, c == Channel.Lasing ? "0/1" : c.Unit)),
        Rows("channel").Select(row => (Quoted(row[0]), row[1])));

    [Fact]
    public void The_conditions_are_the_programs() => Assert.Equal(Conditions.All, Rows("condition").Select(row => Quoted(row[0])));

    [Fact]
    public void The_verbs_are_the_programs() => Assert.Equal(Program.Verbs().Select(verb => verb.Name).Order(StringComparer.Ordinal), Rows("verb").Select(row => Quoted(row[0])).Order(StringComparer.Ordinal));

    [Fact]
    public void Every_verb_within_a_verb_is_named()
    {
        foreach (var verb in Program.Verbs())
        {
            var row = Rows("verb").Single(row => Quoted(row[0]) == verb.Name)[1];
            Assert.All(verb.Subcommands, within => Assert.Contains($"`{within.Name}`", row, StringComparison.Ordinal));
        }
    }

    [Fact]
    public void The_exit_statuses_are_the_programs() =>
        Assert.Equal(Enum.GetValues<ExitCode>().Select(code => $"{(int)code}"), Rows("exit status").Select(row => row[0]));

    [Fact]
    public void The_states_and_priorities_of_an_alarm_are_named()
    {
        var page = string.Join(' ', Page);
        Assert.All(Enum.GetValues<AlarmState>(), state => Assert.Contains($"`{state.Name()}`", page, StringComparison.Ordinal));
        Assert.All(Enum.GetValues<AlarmPriority>(), priority => Assert.Contains($"`{priority.Name()}`", page, StringComparison.Ordinal));
    }

    /// <summary>The rows of the table whose first column has this head.</summary>
    private static List<string[]> Rows(string head)
    {
        var rows = Page.SkipWhile(line => !line.StartsWith($"| {head} |", StringComparison.Ordinal)).Skip(2).TakeWhile(line => line.StartsWith('|'))
            .Select(line => line.Trim('|').Split('|', StringSplitOptions.TrimEntries)).ToList();
        Assert.NotEmpty(rows);
        return rows;
    }

    private static string Quoted(string cell) => cell.Trim('`');
}
