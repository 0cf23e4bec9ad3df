using System.Globalization;

namespace LaserWatch.Practice;

/// <summary>An act of a script, and when it is done.</summary>
/// <param name="At">Since the trainee began to watch, in the recording's time without what is leapt over.</param>
/// <param name="Line">Where it stands, from 1.</param>
public sealed record ScriptedAct(TimeSpan At, PracticeAct Act, int Line);

/// <summary>A practice written down beforehand: a line an act, <c>at 120 acknowledge air-pressure-low</c>. Blank lines and those after # say nothing.</summary>
public static class PracticeScript
{
    private static readonly Dictionary<string, (PracticeActKind Kind, bool? WantsObject)> Verbs = new(StringComparer.Ordinal)
    {
        ["acknowledge"] = (PracticeActKind.Acknowledge, null),
        ["reading"] = (PracticeActKind.AskReading, true),
        ["trend"] = (PracticeActKind.LookAtTrend, true),
        ["cause"] = (PracticeActKind.NameCause, true),
        ["check"] = (PracticeActKind.Check, true),
        ["stop"] = (PracticeActKind.StopJob, false),
        ["nothing-is-wrong"] = (PracticeActKind.SayNothingIsWrong, false),
        ["give-up"] = (PracticeActKind.GiveUp, false),
        ["done"] = (PracticeActKind.Finish, false),
    };

    public static string Known { get; } =
        string.Join(", ", Verbs.Select(v => v.Key + (v.Value.WantsObject switch { true => " NAME", null => " [NAME]", false => "" })));

    public static string NameOf(PracticeActKind kind) => Verbs.First(v => v.Value.Kind == kind).Key;

    /// <param name="mistake">The first mistake, with its line; null where there is none.</param>
    public static IReadOnlyList<ScriptedAct> Parse(IEnumerable<string> lines, out string? mistake)
    {
        mistake = null;
        var acts = new List<ScriptedAct>();
        var number = 0;
        foreach (var line in lines)
        {
            number++;
            var words = line.Split('#')[0].Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries);
            if (words.Length == 0)
                continue;
            mistake = Mistake(words, acts, out var act);
            if (mistake is not null)
            {
                mistake = $"line {number}: {mistake}";
                return [];
            }

            acts.Add(act! with { Line = number });
        }

        return acts;
    }

    private static string? Mistake(string[] words, List<ScriptedAct> before, out ScriptedAct? act)
    {
        act = null;
        if (words.Length < 3 || words[0] != "at")
            return "write 'at SECONDS ACT', such as 'at 120 acknowledge air-pressure-low'";
        if (!double.TryParse(words[1], NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var seconds) || seconds > 1e7)
            return $"'{words[1]}' is no number of seconds from 0 to 10000000";
        if (!Verbs.TryGetValue(words[2], out var verb))
            return $"there is no act '{words[2]}'; there is {Known}";
        if (words.Length > (verb.WantsObject is false ? 3 : 4) || (verb.WantsObject is true && words.Length < 4))
            return $"'{words[2]}' {(verb.WantsObject switch { true => "takes one name", null => "takes one name or none", false => "takes no name" })}";
        var at = TimeSpan.FromSeconds(seconds);
        if (before.Count > 0 && at < before[^1].At)
            return $"{words[1]} s comes before the line above; write the acts in the order of their times";
        act = new ScriptedAct(at, new PracticeAct(verb.Kind, words.Length > 3 ? words[3] : null), 0);
        return null;
    }
}
