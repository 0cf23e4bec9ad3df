using System.Globalization;
using System.Text;
using LaserWatch.Evaluation.Scenarios;

namespace LaserWatch.Evaluation.Scoring;

/// <summary>One row for each kind and size of fault.</summary>
internal static class FaultTable
{
    public static string Of(IEnumerable<Outcome> outcomes)
    {
        var text = new StringBuilder();
        text.AppendLine("| fault | size | n | in time | late | missed | wrong cause | named best | median delay | mean delay | least delay | median ratio | clock |");
        text.AppendLine("|---|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|---|");
        foreach (var row in outcomes.Where(o => o.Scenario.Truth.Expectation == Expectation.Finding).GroupBy(o => (o.Scenario.Family, o.Scenario.Size)))
            text.AppendLine(Row(row.Key.Family, row.Key.Size, [.. row]));
        return text.ToString();
    }

    /// <summary>Faults that the channels cannot show: what was said all the same.</summary>
    public static string OfInvisible(IEnumerable<Outcome> outcomes)
    {
        var text = new StringBuilder();
        text.AppendLine("| fault | size | n | silent | told all the same | wrong cause |");
        text.AppendLine("|---|---|--:|--:|--:|--:|");
        foreach (var row in outcomes.Where(o => o.Scenario.Truth.Expectation == Expectation.Invisible).GroupBy(o => (o.Scenario.Family, o.Scenario.Size)))
        {
            var (told, wrong) = (row.Count(o => o.Finding is not null), row.Count(o => o.WrongCauses.Count > 0));
            text.AppendLine(CultureInfo.InvariantCulture, $"| {row.Key.Family} | {row.Key.Size} | {row.Count()} | {row.Count(o => o.Finding is null && o.WrongCauses.Count == 0)} | {told} | {wrong} |");
        }

        return text.ToString();
    }

    /// <summary>What the alarms' evidence says of the cause, where it says anything.</summary>
    public static string OfCauses(IEnumerable<Outcome> outcomes)
    {
        var text = new StringBuilder();
        text.AppendLine("| fault | size | found | causes named | fit the fault | told step or ramp | rightly |");
        text.AppendLine("|---|---|--:|---|--:|---|--:|");
        foreach (var row in outcomes.Where(o => o.Finding is not null).GroupBy(o => (o.Scenario.Family, o.Scenario.Size)))
        {
            var (causes, shapes) = (row.Where(o => o.Cause is not null).ToList(), row.Where(o => o.Shape is not null).ToList());
            if (causes.Count == 0 && shapes.Count == 0)
                continue;
            var truth = row.First().Scenario.Truth;
            var fit = truth.Causes.Count == 0 ? "" : causes.Count(o => truth.Causes.Contains(o.Cause!)).ToString(CultureInfo.InvariantCulture);
            var right = truth.Shape is null ? "" : shapes.Count(o => o.Shape == truth.Shape).ToString(CultureInfo.InvariantCulture);
            text.AppendLine(CultureInfo.InvariantCulture, $"| {row.Key.Family} | {row.Key.Size} | {row.Count()} | {Counts(causes.Select(o => o.Cause!))} | {fit} | {Counts(shapes.Select(o => o.Shape!))} | {right} |");
        }

        return text.ToString();

        static string Counts(IEnumerable<string> words) =>
            string.Join(", ", words.GroupBy(word => word).OrderByDescending(g => g.Count()).Select(g => $"{g.Key} {g.Count()}"));
    }

    private static string Row(string family, string size, List<Outcome> all)
    {
        var judged = all.Where(o => o.Found != Found.NotExposed).ToList();
        var found = judged.Where(o => o.Finding is not null).ToList();
        var delays = found.Select(o => o.Delay).Order().ToList();
        var least = judged.Select(o => o.LeastDelay).Order().ToList();
        var ratios = found.Where(o => o.LeastDelay > 0).Select(o => o.Delay / o.LeastDelay).Order().ToList();
        var wrong = judged.Count(o => o.WrongCauses.Count > 0);
        return string.Create(
            CultureInfo.InvariantCulture,
            $"| {family} | {size} | {judged.Count} | {Count(Found.InTime)} | {Count(Found.Late)} | {Count(Found.Missed)} | {wrong} | {found.Count(o => o.IsNamedBest)} | {Durations.Text(Middle(delays))} | {Durations.Text(delays.Count == 0 ? null : delays.Average())} | {Durations.Text(Middle(least))} | {(ratios.Count == 0 ? "–" : Middle(ratios)!.Value.ToString("0.0", CultureInfo.InvariantCulture))} | {Durations.Clock(all[0].Scenario.Truth.Clock)} |");

        int Count(Found kind) => judged.Count(o => o.Found == kind);
    }

    private static double? Middle(List<double> sorted) => sorted.Count == 0 ? null
        : sorted.Count % 2 == 1 ? sorted[sorted.Count / 2] : (sorted[(sorted.Count / 2) - 1] + sorted[sorted.Count / 2]) / 2;
}
