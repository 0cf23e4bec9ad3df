using System.Globalization;
using System.Text;

namespace LaserWatch.Evaluation.Scoring;

/// <summary>False alarms: of healthy machines, of faults too small to matter, and of machines whose fault had not begun.</summary>
internal static class HealthTable
{
    public static string ByKind(IReadOnlyList<Outcome> outcomes)
    {
        var text = new StringBuilder();
        text.AppendLine("| healthy time | machine-years | false above low | a machine-year | false low | a machine-year | alarms that were so |");
        text.AppendLine("|---|--:|--:|--:|--:|--:|--:|");
        foreach (var row in outcomes.Where(o => o.Scenario.Truth.Expectation == Scenarios.Expectation.Silence).GroupBy(o => o.Scenario.Family))
            text.AppendLine(Row(row.Key, [.. row]));
        var before = outcomes.Where(o => o.Scenario.Truth.Expectation != Scenarios.Expectation.Silence).ToList();
        if (before.Count > 0)
            text.AppendLine(Row("before the onset of a fault", before, countSo: false));
        text.AppendLine(Row("**all**", outcomes));
        return text.ToString();
    }

    public static string ByCondition(IReadOnlyList<Outcome> outcomes)
    {
        var years = outcomes.Sum(o => o.HealthyYears);
        var text = new StringBuilder();
        text.AppendLine("| false alarm | priority | count | a machine-year | machines it came from |");
        text.AppendLine("|---|---|--:|--:|---|");
        var rows = outcomes.SelectMany(o => o.FalseAlarms.Select(alarm => (alarm.Condition, alarm.Change.Priority, Shop: o.Scenario.Shop.Name)))
            .GroupBy(alarm => (alarm.Condition, alarm.Priority)).OrderByDescending(row => row.Key.Priority).ThenByDescending(row => row.Count());
        var any = false;
        foreach (var row in rows)
        {
            any = true;
            var shops = string.Join(", ", row.GroupBy(alarm => alarm.Shop).OrderByDescending(g => g.Count()).Take(5).Select(g => $"{g.Key} {g.Count()}"));
            text.AppendLine(CultureInfo.InvariantCulture, $"| {row.Key.Condition} | {Alarms.AlarmNames.Name(row.Key.Priority)} | {row.Count()} | {row.Count() / years:0.00} | {shops} |");
        }

        if (!any)
            text.AppendLine("| none | | 0 | 0 | |");
        return text.ToString();
    }

    private static string Row(string name, IReadOnlyList<Outcome> outcomes, bool countSo = true)
    {
        var years = outcomes.Sum(o => o.HealthyYears);
        var above = outcomes.Sum(o => o.FalseAlarms.Count(alarm => alarm.IsAboveLow));
        var low = outcomes.Sum(o => o.FalseAlarms.Count(alarm => !alarm.IsAboveLow));
        var so = countSo ? outcomes.Sum(o => o.SoAlarms).ToString(CultureInfo.InvariantCulture) : "";
        return string.Create(CultureInfo.InvariantCulture, $"| {name} | {years:0.00} | {above} | {Rate(above)} | {low} | {Rate(low)} | {so} |");

        string Rate(int count) => years > 0 ? (count / years).ToString("0.00", CultureInfo.InvariantCulture) : "–";
    }
}
