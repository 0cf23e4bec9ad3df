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
            Words(@"into the nozzle|spatter|clean (the nozzle|the lens|all mirrors|the combiner|the window)|take the lens|\blens\b[^.;]*\bdamage|each mirror|under the head|to the head|hose has come off|sensor and the head|four corners|\btape\b|thermal probe|outlet window with a lamp|combiner's both faces|gap from nozzle|straight edge"),
            Words(@"beam (and motors )?(off|locked out)|machine (is )?(off|stopped)|\blocked\b|was taught|interlock open|qualified person")),
        ("high voltage",
            Words(@"\b(measure\w*|tests?|tested|check|replace\w*|exchange\w*|dr(y|ies)|touch|clean|look\w*|run|runs|feel)\b[^.;:]*\b(supply|supply's|high-voltage|lead|tube's (ends?|outlet))\b|replace the tube|tube replaced|\bdrops (or|on the tube)|bubbles (in|and)|for bubbles|hoses?\b[^.;]*pinched|pinched hose|\bjug\b|return jet|weak pump|\bthe pump, its filter"),
            Words(@"qualified person|was taught|not touch|without touching|covers on|laser supply isolated|machine off and the pump unplugged|machine off and pump unplugged")),
        ("mains",
            Words(@"\bmains\b|\bcircuit of its own\b|voltage under load"),
            Words(@"qualified person|electrician")),
        ("pressure",
            Words(@"\b(drain|open|change|replace\w*|push|blow|put it back|mend it)\b[^.;]*\b(trap|element|tank|hose|fitting|line)\b|loose fitting|leaks? (listen|at each)|trap's (bowl|filter)|regulator's gauge[^.;]*set"),
            Words(@"pressure (is )?(off|let off|low)|low pressure|let the pressure off|turn the regulator slowly|with the air flowing|machine off and the pump unplugged")),
        ("heat and moving parts",
            Words(@"\b(compressor|fan|fins|condenser|belt|gantry)\b[^.;]*\b(runs|turns|clean|dust|slack|stands|filter|unplugged|by hand)\b|\b(clean|look|tighten|push)\b[^.;]*\b(fan|fins|condenser|belt|gantry|rail)\b|flow sensor\b[^.;]*\bscale|growth or scale|straight edge|\bgap from nozzle|under the head"),
            Words(@"switched off|switch (it|the fan) off|without touching|unplug|pull its plug|machine off|motors off|can start by itself")),
        ("wiring",
            Words(@"\b(look|check)\b[^.;]*\b(connector|wiring|broken wire)\b"),
            Words(@"machine (is )?off|qualified person|low-voltage side only")),
        ("fire and fumes",
            Words(@"make a test cut|test cut, now|cut a (circle|piece)|cut the job|cut the proven job|fire one|glowing|PVC|strip of paper at the inlet"),
            Words(@"extraction|stay with the machine|lid shut|keep it shut|beside it")),
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

            foreach (var cause in Enum.GetValues<TubeCause>())
                lines.Add($"tell apart {cause}", new RankedTubeCause(cause, 1).TellApart);
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
                // What happened and what was no use are told, not advised. A paragraph is read as a whole; a numbered check is one of its own.
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
    [InlineData("tube-window-dirty")]
    [InlineData("sensor-fault")]
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
    [InlineData("Feel and look for a weak pump or a pinched hose")]
    [InlineData("Check the lens for damage: a blocked nozzle lets smoke reach it")]
    [InlineData("Look along the air hose to the head for a kink, a crushed place or a loose fitting")]
    [InlineData("Look for a broken wire or a wet connector")]
    [InlineData("Look for drops on the tube, its ends and the high-voltage lead before striking")]
    [InlineData("Look at the water trap's bowl and element; hold paper under the head with the air on")]
    [InlineData("Look at the return jet in the reservoir, the level, the filter, and along the hoses")]
    [InlineData("Lay a straight edge across the sheet, or press it at the bad place")]
    public void A_line_without_its_caution_is_found(string line) =>
        Assert.Contains(Hazards, hazard => hazard.Triggers.IsMatch(line) && !hazard.Cautions.IsMatch(line));

    /// <summary>A check without its safety text is found: of the table's own checks, all that touch a hazard.</summary>
    [Theory]
    [InlineData("flatness")]
    [InlineData("water-trap")]
    [InlineData("nozzle")]
    [InlineData("air-hose")]
    [InlineData("compressor")]
    [InlineData("exhaust")]
    [InlineData("coolant-flow")]
    [InlineData("lens")]
    [InlineData("mirrors")]
    [InlineData("combiner")]
    [InlineData("tube-window")]
    [InlineData("alignment")]
    [InlineData("bed")]
    [InlineData("focus")]
    [InlineData("tube")]
    public void A_check_that_lost_its_safety_text_is_found(string check)
    {
        var how = CauseModels.BuiltIn.FindCheck(check)!.How;

        Assert.Contains(Hazards, hazard => hazard.Triggers.IsMatch(how) && !hazard.Cautions.IsMatch(how));
    }

    [Fact]
    public void The_readme_has_the_sentence_that_everything_else_prints() =>
        Assert.Contains(Cautions.LocalCodesFirst, File.ReadAllText(Path.Combine(Repository.Folder, "README.md")).ReplaceLineEndings(" "), StringComparison.Ordinal);

    private static Regex Words(string pattern) => new(pattern, RegexOptions.IgnoreCase | RegexOptions.CultureInvariant);

    [GeneratedRegex(@"\n\s*\n|\n(?=\d+\. )")]
    private static partial Regex Paragraph();
}
