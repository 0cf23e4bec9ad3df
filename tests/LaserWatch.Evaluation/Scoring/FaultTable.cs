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
