using System.Text.RegularExpressions;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Rules;

namespace LaserWatch.Diagnosis;

/// <summary>
/// Advice reaches whoever reads it, one line at a time. Each that touches a hazard names its caution. The hazards are those of ISO 11553-1 and
/// IEC 60825-1 in general words (named, not quoted); which words give them away is common practice, no source.
/// </summary>
public sealed partial class SafeAdviceTests
{
    /// <summary>A hazard; the words that give away that a hand or an eye comes near it; the words of its caution.</summary>
    private static readonly (string Hazard, Regex Triggers, Regex Cautions)[] Hazards =
    [
        ("laser radiation",
            Words(@"into the nozzle|spatter|clean (the nozzle|the lens|all mirrors|the combiner|the window)|take the lens|lens for damage|each mirror|under the head|the hose to the head|hose has come off|before the nozzle|four corners|tape|probe|outlet window with a lamp|combiner's both faces|gap from nozzle"),
            Words(@"beam (and motors )?(off|locked out)|machine (is )?(off|stopped)|locked|taught|interlock open|qualified person")),
        ("high voltage",
            Words(@"\b(measure\w*|test(s|ed)?|check|replace\w*|exchange\w*|dr(y|ies)|touch|clean|look\w*|run\w*|feel)\b[^.;:]*\b(supply|supply's|high-voltage|lead|tube's (ends?|outlet))\b|replace the tube|tube replaced|drops (or|on)|bubbles (in|and)|for bubbles|hoses?\b[^.;]*pinched|jug"),
            Words(@"qualified person|taught|not touch|without touching|covers on|pump unplugged|discharge|laser supply isolated")),
        ("mains",
            Words(@"\bmains\b|\bcircuit of its own\b|voltage under load"),
            Words(@"qualified person|electrician")),
        ("pressure",
            Words(@"\b(drain|open|change|replace\w*|push|blow|put it back|mend it)\b[^.;]*\b(trap|element|tank|hose|fitting|line)\b|loose fitting|leaks? (listen|at each)|its filter\b.*trap|trap's filter"),
            Words(@"pressure (is )?(off|let off|low)|low pressure|let the pressure off|pump unplugged")),
        ("heat and moving parts",
            Words(@"\b(compressor|fan|fins|condenser|belt|gantry|pump)\b[^.;]*\b(runs|turns|clean|dust|slack|stands|weak|filter|unplugged|by hand)\b|\b(clean|look|tighten|push)\b[^.;]*\b(fan|fins|condenser|belt|gantry|rail)\b"),
            Words(@"switched off|switch (it|the fan) off|without touching|not touch|unplug|pull its plug|machine off|motors off|start by itself|listen")),
        ("fire and fumes",
            Words(@"make a test cut|test cut, now|cut a (circle|piece)|cut the job|cut the proven job|fire one|glowing|PVC"),
            Words(@"extraction|stay with the machine|beside it|lid shut|keep it shut")),
    ];

    public static TheoryData<string, string> Lines
    {
        get
        {
            var lines = new TheoryData<string, string>();
            var limit = new ChannelLimit("door", new ChannelLimitOptions { High = 1 }).Sheet;
            foreach (var sheet in RuleBook.Sheets.Append(limit))
            {
                foreach (var line in sheet.Checks)
                    lines.Add(sheet.Condition, line);
            }

            foreach (var cause in Enum.GetValues<DriftCause>())
                lines.Add($"drift {cause}", DriftCauses.Check(cause));
            foreach (var check in CauseModels.BuiltIn.Checks)
                lines.Add($"check {check.Id}", $"{check.How} {check.Safety}");
            foreach (var sign in CauseModels.BuiltIn.Signs.Where(s => s.How is not null))
                lines.Add($"sign {sign.Id}", $"{sign.How} {sign.Safety}");
            foreach (var cause in CauseModels.BuiltIn.Causes)
                lines.Add($"mend {cause.Id}", $"{cause.Mend}. {CauseModels.BuiltIn.FindCheck(cause.Check)!.Safety}");
            foreach (var notes in Directory.EnumerateFiles(Path.Combine(Repository.Folder, "config", "cases"), "notes.md", SearchOption.AllDirectories).Order(StringComparer.Ordinal))
            {
                // A paragraph is read as a whole; a numbered check is one paragraph of its own.
                var chapter = File.ReadAllText(notes).Split("## What to check, and why")[1].Split("\n## ")[0];
                foreach (var paragraph in Paragraph().Split(chapter).Where(p => p.Trim().Length > 0))
                    lines.Add($"case {Path.GetFileName(Path.GetDirectoryName(notes))}", paragraph.ReplaceLineEndings(" ").Trim());
            }

            return lines;
        }
    }

    [Theory]
    [MemberData(nameof(Lines))]
    public void A_line_that_touches_a_hazard_names_its_caution(string where, string line)
    {
        foreach (var (hazard, triggers, cautions) in Hazards)
        {
            if (triggers.Match(line) is { Success: true } trigger)
                Assert.True(cautions.IsMatch(line), $"{where}: '{trigger.Value}' touches {hazard} without a caution: {line}");
        }
    }

    [Theory]
    [InlineData("supply-failing")]
    [InlineData("high-voltage-leak")]
    [InlineData("tube-aged")]
    [InlineData("condensation")]
    [InlineData("command-path")]
    public void What_opens_the_high_voltage_side_is_a_qualified_persons_in_the_mends_own_words(string cause) =>
        Assert.Contains("qualified person", CauseModels.BuiltIn.FindCause(cause)!.Mend, StringComparison.Ordinal);

    [Fact]
    public void Every_hazard_is_met_by_some_line()
    {
        var lines = Lines.Select(row => (string)row[1]).ToList();

        Assert.All(Hazards, hazard => Assert.Contains(lines, line => hazard.Triggers.IsMatch(line)));
    }

    [Theory]
    [InlineData("Look into the nozzle and clean it")]
    [InlineData("Measure the mains voltage under load")]
    [InlineData("Drain the water trap and look at its filter")]
    [InlineData("See that the compressor runs")]
    [InlineData("Make a test cut of a proven job")]
    [InlineData("Check the command to the supply and its connector")]
    public void A_line_without_its_caution_is_found(string line) =>
        Assert.Contains(Hazards, hazard => hazard.Triggers.IsMatch(line) && !hazard.Cautions.IsMatch(line));

    [Fact]
    public void The_readme_has_the_sentence_that_everything_else_prints() =>
        Assert.Contains(Cautions.LocalCodesFirst, File.ReadAllText(Path.Combine(Repository.Folder, "README.md")).ReplaceLineEndings(" "), StringComparison.Ordinal);

    private static Regex Words(string pattern) => new(pattern, RegexOptions.IgnoreCase | RegexOptions.CultureInvariant);

    [GeneratedRegex(@"\n\s*\n|\n(?=\d+\. )")]
    private static partial Regex Paragraph();
}
