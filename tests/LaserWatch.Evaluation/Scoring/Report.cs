using System.Text;

namespace LaserWatch.Evaluation.Scoring;

/// <summary>The tables, as Markdown.</summary>
internal static class Report
{
    public static string Of(IReadOnlyList<Outcome> outcomes)
    {
        var text = new StringBuilder();
        text.AppendLine("## Faults").AppendLine().Append(FaultTable.Of(outcomes)).AppendLine();
        if (outcomes.Any(o => o.Cause is not null || o.Shape is not null))
            text.AppendLine("## Causes named").AppendLine().Append(FaultTable.OfCauses(outcomes)).AppendLine();
        if (outcomes.Any(o => o.Scenario.Truth.Expectation == Scenarios.Expectation.Invisible))
            text.AppendLine("## Faults the channels cannot show").AppendLine().Append(FaultTable.OfInvisible(outcomes)).AppendLine();
        text.AppendLine("## False alarms").AppendLine().Append(HealthTable.ByKind(outcomes)).AppendLine();
        text.Append(HealthTable.ByCondition(outcomes)).AppendLine();
        return text.ToString();
    }
}
