using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Rules;

namespace LaserWatch.Cli;

/// <summary>The performance of the alarms for reading: what time it is of, each figure beside what is recommended, the most frequent, the machines.</summary>
internal static class PerformanceText
{
    public static void Print(PerformanceFound found, TextWriter output)
    {
        var f = found.Whole.Figures;
        output.WriteLine($"Alarms of {(found.Whole.Machine is { } one ? one : "the shop")}, {f.From} to {f.To} (days, hours and ten minutes are those of UTC)");
        output.WriteLine(Text($"{f.Annunciations} annunciated, {f.DifferentAlarms} different ones; covered: {f.CoveredHours} of {f.Hours} hours, on {f.CoveredDays} days."));
        NotCovered(found, output);
        if (f.CoveredDays < PerformanceStandard.LeastDays)
            output.WriteLine(Text($"Too little to judge by: at least {PerformanceStandard.LeastDays} days are the basis (ISA-18.2, from memory)."));
        output.WriteLine();

        var measures = new Listing("measure", "value", "recommended", "verdict", "says who", "known");
        foreach (var m in found.Whole.Measures)
            measures.Row(m.Name, Value(m), m.Recommended, Verdict(m), m.Source, m.Known);
        measures.Print(output, terminal: false);
        output.WriteLine();
        output.WriteLine("The recommended values are for one person who attends to all of it. Averages and percentages are of the covered time.");

        Frequent(f, output);
        Machines(found.Machines, output);
    }

    private static void NotCovered(PerformanceFound found, TextWriter output)
    {
        var gaps = found.Whole.NotCovered;
        if (gaps.Count > 0)
        {
            var longest = gaps.MaxBy(g => g.To - g.From);
            output.WriteLine(Text(
                $"Not covered: {gaps.Sum(g => (g.To - g.From).TotalHours):0} hours in {gaps.Count} stretches without a sample or an alarm (machines off, or no agent running: the store cannot tell which); the longest {longest.From} to {longest.To}."));
        }

        if (found.LostSeconds > 0)
            output.WriteLine(Text($"In {found.LostSeconds / 3600:0.##} hours samples were lost on their way to the disk; alarms were judged all the same."));
    }

    private static void Frequent(AlarmFigures figures, TextWriter output)
    {
        if (figures.MostFrequent.Count == 0)
            return;
        output.WriteLine();
        var listing = new Listing("most frequent", "machine", "annunciated", "share %", "chattered");
        foreach (var a in figures.MostFrequent)
            listing.Row(a.Condition, a.Machine, Text($"{a.Annunciations}"), Text($"{100 * a.Share:0.0}"), a.Chattered ? "yes" : "");
        listing.Print(output, terminal: false);
    }

    private static void Machines(IReadOnlyList<Performance> machines, TextWriter output)
    {
        if (machines.Count == 0)
            return;
        output.WriteLine();
        var listing = new Listing("machine", "days", "annunciated", "a day", "an hour", "most in 10 min", "floods", "chattering", "fleeting", "stale", "waiting", "shelved", "suppressed");
        foreach (var (machine, f, _, _) in machines)
        {
            listing.Row(
                machine!, Text($"{f.CoveredDays}"), Text($"{f.Annunciations}"), Number(f.PerDay), Number(f.PerHour), Text($"{f.GreatestTenMinutes}"), Text($"{f.Floods}"),
                Text($"{f.Chattering}"), Text($"{f.Fleeting}"), Text($"{f.StaleAtEnd}"), Text($"{f.Waiting}"), Text($"{f.Shelved.Times}"), Text($"{f.SuppressedByDesign.Times}"));
        }

        listing.Print(output, terminal: false);
        output.WriteLine("'laserwatch alarms MACHINE --performance' sets one machine's figures beside the recommended ones.");
    }

    private static string Verdict(PerformanceMeasure measure) => measure.Verdict switch
    {
        PerformanceVerdict.Within => "within",
        PerformanceVerdict.Above => "above",
        PerformanceVerdict.TooLittleData => $"too little data: {measure.Why}",
        _ => measure.Why is null ? "" : $"not judged: {measure.Why}",
    };

    private static string Value(PerformanceMeasure measure) => measure switch
    {
        { Value: null } => "none",
        { Unit: "s", Value: { } seconds } => seconds < 120 ? Text($"{seconds:0.#} s") : seconds < 7200 ? Text($"{seconds / 60:0.#} min") : Text($"{seconds / 3600:0.#} h"),
        _ => $"{Number(measure.Value)} {measure.Unit}".TrimEnd(),
    };

    private static string Number(double? value) => value is { } number ? Text($"{number:0.##}") : "none";

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
