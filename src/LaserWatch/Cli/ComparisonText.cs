using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Rehearsal;

namespace LaserWatch.Cli;

/// <summary>A comparison for people: the sentence first, then the tables behind it.</summary>
internal static class ComparisonText
{
    // Alarms beyond this are in the JSON; a page of rows says no more than the table of conditions.
    private const int MostRows = 200;

    public static void Print(ComparisonFound found, ComparisonShown shown, TextWriter output, bool terminal)
    {
        var comparison = found.Comparison;
        output.WriteLine(found.Summary);
        output.WriteLine($"A: {found.NameA}");
        output.WriteLine($"B: {found.NameB}");
        if (comparison.First is { } first && comparison.Last is { } last)
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"from {Rfc3339.Format(first)} to {Rfc3339.Format(last)}: {comparison.Days} day(s) with samples"));
        if (shown.Differences)
            PrintDifferences(found, output, terminal);
        PrintScores(found, output);
        if (comparison.Pairs.Count == 0)
            return;
        output.WriteLine();
        PrintSides(comparison, output, terminal);
        output.WriteLine();
        PrintConditions(comparison, output, terminal);
        PrintPairs(comparison, shown.All, output, terminal);
    }

    private static void PrintScores(ComparisonFound found, TextWriter output)
    {
        if (found is not { ScoreA: { } a, ScoreB: { } b })
            return;
        output.WriteLine();
        output.WriteLine($"against {Number(found.Annotations.Count)} annotated span(s):");
        foreach (var (name, score) in new[] { ("A", a), ("B", b) })
        {
            output.WriteLine($"{name}: {AnnotationWords.Of(score)}");
            foreach (var missed in score.Faults.Where(f => f.FoundBy is null))
                output.WriteLine($"   missed: {missed.Fault.Machine} {missed.Fault.Words} from {Rfc3339.Format(missed.Fault.From)} to {Rfc3339.Format(missed.Fault.To)}");
        }
    }

    private static void PrintDifferences(ComparisonFound found, TextWriter output, bool terminal)
    {
        output.WriteLine();
        var listing = new Listing("setting", "A", "B", "seen by the rules");
        foreach (var d in found.Differences)
            listing.Row(d.Path, d.A ?? "(left out)", d.B ?? "(left out)", d.TouchesRules ? "yes" : "no");
        if (listing.IsEmpty)
            output.WriteLine("No setting differs.");
        else
            listing.Print(output, terminal);
    }

    private static void PrintSides(Comparison comparison, TextWriter output, bool terminal)
    {
        var listing = new Listing("", "raised", "a day", "low", "medium", "high", "urgent", "time in alarm");
        foreach (var (name, side) in new[] { ("A", comparison.A), ("B", comparison.B) })
        {
            listing.Row(
                [name, Number(side.Raised), comparison.PerDay(side)?.ToString("0.00", CultureInfo.InvariantCulture) ?? "",
                .. side.ByPriority.Select(Number), SpanWords.Of(side.Stood)]);
        }

        listing.Print(output, terminal);
    }

    private static void PrintConditions(Comparison comparison, TextWriter output, bool terminal)
    {
        var listing = new Listing("machine", "condition", "A", "B", "same", "changed", "vanish", "appear", "in alarm, A", "in alarm, B");
        foreach (var c in comparison.Conditions)
        {
            listing.Row(
                c.Machine, c.Condition, Number(c.RaisedA), Number(c.RaisedB), Number(c.Same), Number(c.Moved), Number(c.Vanish), Number(c.Appear),
                SpanWords.Of(c.StoodA), SpanWords.Of(c.StoodB));
        }

        listing.Print(output, terminal);
    }

    private static void PrintPairs(Comparison comparison, bool all, TextWriter output, bool terminal)
    {
        var wanted = comparison.Pairs.Where(p => all || p.Fate != AlarmFate.Same).OrderBy(p => p.Raised).ToList();
        if (wanted.Count == 0)
            return;
        output.WriteLine();
        var listing = new Listing("machine", "condition", "raised by A", "raised by B", "under B");
        foreach (var pair in wanted.Take(MostRows))
            listing.Row(pair.Machine, pair.Condition, Of(pair.A), Of(pair.B), ComparisonWords.OfPair(pair));
        listing.Print(output, terminal);
        if (wanted.Count > MostRows)
            output.WriteLine($"and {Number(wanted.Count - MostRows)} more; --format json has all");
    }

    private static string Of(RaisedAlarm? alarm) => alarm is null ? "-" : $"{Rfc3339.Format(alarm.Raised)} {alarm.Priority.Name()}, {SpanWords.Of(alarm.Length)}{(alarm.Ended is null ? ", stands" : "")}";

    private static string Number(int count) => count.ToString(CultureInfo.InvariantCulture);
}
