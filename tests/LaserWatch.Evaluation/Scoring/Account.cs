using System.Globalization;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Evaluation.Scenarios;

namespace LaserWatch.Evaluation.Scoring;

/// <summary>One scenario told at length: what was to be said, and every alarm with its time.</summary>
internal static class Account
{
    public static string Of(Outcome outcome)
    {
        var (scenario, truth) = (outcome.Scenario, outcome.Scenario.Truth);
        var text = new StringBuilder();
        var verdict = truth.Expectation switch
        {
            Expectation.Silence => outcome.FalseAlarms.Any(alarm => alarm.IsAboveLow) ? "FALSE" : "silent",
            Expectation.Invisible => outcome.WrongCauses.Count > 0 ? "WRONG" : "unseen",
            _ => outcome.Found + (outcome.WrongCauses.Count > 0 ? ", WRONG CAUSE" : ""),
        };
        text.AppendLine(CultureInfo.InvariantCulture, $"{verdict}: {scenario.Name}, {scenario.Days} days");
        if (double.IsFinite(truth.Onset))
            text.AppendLine(CultureInfo.InvariantCulture, $"    onset {Day(truth.Onset)}, material {Day(truth.Material)}, delay {Durations.Text(outcome.Delay)}, least {Durations.Text(outcome.LeastDelay)}");
        // Of a healthy machine only what is not so: a summer's hot coolant would hide it.
        var told = truth.Expectation == Expectation.Silence ? outcome.FalseAlarms : [.. outcome.Alarms.Where(alarm => !alarm.IsSo || alarm.Time >= truth.Onset)];
        foreach (var alarm in told.Take(12))
        {
            var sign = alarm.IsSo ? "so" : alarm.Time < truth.Onset ? "false" : truth.Accepted.Contains(alarm.Condition) ? "found" : truth.Consequences.Contains(alarm.Condition) ? "follows" : "wrong";
            text.AppendLine(CultureInfo.InvariantCulture, $"    {Day(alarm.Time)} {sign,-7} {alarm.Condition} ({AlarmNames.Name(alarm.Change.Priority)}): {alarm.Change.Message}");
        }

        if (told.Count > 12)
            text.AppendLine(CultureInfo.InvariantCulture, $"    and {told.Count - 12} more");
        return text.ToString();
    }

    private static string Day(double seconds)
    {
        if (!double.IsFinite(seconds))
            return "never";
        var day = Math.Floor(seconds / 86_400);
        var time = TimeSpan.FromSeconds(seconds - (day * 86_400));
        return string.Create(CultureInfo.InvariantCulture, $"day {day:0} {time:hh\\:mm\\:ss}");
    }
}
