using System.Globalization;

namespace LaserWatch.Rehearsal;

/// <summary>How alarms stand against annotations, in plain words.</summary>
public static class AnnotationWords
{
    /// <summary>Such as <c>2 of 3 annotated faults found (half of them within 4 min); 1 false alarm in good time; 5 alarms where nobody said anything</c>.</summary>
    public static string Of(AnnotationScore score)
    {
        var after = score.Faults.Select(f => f.After).OfType<TimeSpan>().Order().ToList();
        List<string> parts = [];
        if (score.Faults.Count > 0)
        {
            parts.Add(Text($"{score.Found} of {score.Faults.Count} annotated {(score.Faults.Count == 1 ? "fault" : "faults")} found")
                + (after.Count == 0 ? "" : after.Count == 1 ? $" ({Soon(after[0])})" : $" (half of them {Soon(after[after.Count / 2])})"));
        }

        parts.Add(Text($"{score.FalseAlarms.Count} false {Alarms(score.FalseAlarms.Count)} in good time"));
        if (score.Ignored > 0)
            parts.Add(Text($"{score.Ignored} {Alarms(score.Ignored)} in time to be ignored"));
        parts.Add(Text($"{score.Elsewhere} {Alarms(score.Elsewhere)} where nobody said anything"));
        return string.Join("; ", parts);
    }

    private static string Soon(TimeSpan after) => after < TimeSpan.Zero ? $"{SpanWords.Of(after)} before" : $"within {SpanWords.Of(after)}";

    private static string Alarms(int count) => count == 1 ? "alarm" : "alarms";

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
