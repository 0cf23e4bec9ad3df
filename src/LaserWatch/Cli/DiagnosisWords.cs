using System.Globalization;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;

namespace LaserWatch.Cli;

/// <summary>The words by which a person tells a diagnosis what was seen, found and ruled out.</summary>
internal static class DiagnosisWords
{
    /// <summary>Puts each word where it belongs: an answer to a sign may stand under found and ruled out too.</summary>
    /// <exception cref="CommandException">A word is not one of the table's, or is told both ways.</exception>
    public static (string[] Seen, string[] NotSeen, CheckedSoFar Looked) Sort(
        CauseModel model, string[] seen, string[] notSeen, string[] found, string[] ruledOut)
    {
        foreach (var (option, words) in new[] { ("--seen", seen), ("--not-seen", notSeen) })
        {
            foreach (var word in words.Where(w => model.FindSignOf(w) is null))
                throw Unknown(option, word, Answers(model));
        }

        var looked = Looked(model).ToList();
        foreach (var (option, words) in new[] { ("--found", found), ("--ruled-out", ruledOut) })
        {
            foreach (var word in words.Where(w => !looked.Contains(w) && model.FindSignOf(w) is null))
                throw Unknown(option, word, looked.Concat(Answers(model)));
        }

        string[] nowSeen = [.. seen, .. found.Where(w => !looked.Contains(w))];
        string[] nowNot = [.. notSeen, .. ruledOut.Where(w => !looked.Contains(w))];
        if (nowSeen.Intersect(nowNot).Concat(found.Intersect(ruledOut)).FirstOrDefault() is { } both)
            throw new CommandException(ExitCode.BadUsage, $"'{both}' is told both ways: leave it out on one side.");
        return (nowSeen, nowNot, new CheckedSoFar([.. found.Where(looked.Contains)], [.. ruledOut.Where(looked.Contains)]));
    }

    public static void Print(CauseModel model, TextWriter output)
    {
        output.WriteLine("Seen, not seen (--seen, --not-seen):");
        foreach (var sign in model.Signs)
        {
            output.WriteLine($"  {sign.About}");
            foreach (var answer in sign.Answers)
                output.WriteLine($"    {answer.Id,-22} {answer.Means}");
        }

        output.WriteLine();
        output.WriteLine("Checks, and the causes each finds (--found, --ruled-out):");
        foreach (var check in model.Checks)
        {
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"  {check.Id} ({check.Minutes:0.#} min)"));
            foreach (var cause in model.Causes.Where(c => c.Check == check.Id))
                output.WriteLine($"    {cause.Id,-22} {cause.What}");
        }
    }

    private static IEnumerable<string> Answers(CauseModel model) => model.Signs.SelectMany(s => s.Answers).Select(a => a.Id);

    private static IEnumerable<string> Looked(CauseModel model) => model.Causes.Select(c => c.Id).Concat(model.Checks.Select(c => c.Id)).Distinct();

    private static CommandException Unknown(string option, string word, IEnumerable<string> words) => new(
        ExitCode.BadUsage,
        $"{option}: '{word}' is not a word of the table{(NearestWord.To(word, words) is { } nearest ? $"; did you mean '{nearest}'?" : "; 'laserwatch diagnose MACHINE --words' lists them.")}");
}
