using LaserWatch.Evaluation.Scenarios;
using LaserWatch.Rules;

namespace LaserWatch.Evaluation.Scoring;

internal enum Found
{
    InTime,
    Late,
    Missed,

    /// <summary>The fault showed itself for less than its patience before the scenario ended: nothing can be said.</summary>
    NotExposed,
}

/// <summary>What a watch said of a scenario, held against the truth.</summary>
internal sealed class Outcome
{
    public Outcome(Scenario scenario, IReadOnlyList<RaisedAlarm> alarms, Clocks onset, Clocks material, Clocks end, long samples)
    {
        (Scenario, Alarms, Samples) = (scenario, alarms, samples);
        var truth = scenario.Truth;
        var faulty = truth.Expectation != Expectation.Silence;
        // A fault too small to be told leaves the machine healthy.
        FalseAlarms = [.. alarms.Where(alarm => !alarm.IsSo && (!faulty || alarm.Time < truth.Onset))];
        SoAlarms = alarms.Count(alarm => alarm.IsSo);
        HealthyYears = Math.Min(faulty ? truth.Onset / 86_400 : scenario.Days, scenario.Days) / 365;
        if (!faulty)
            return;

        var after = alarms.Where(alarm => alarm.Time >= truth.Onset).ToList();
        WrongCauses = [.. after.Where(alarm => alarm.IsAboveLow && !alarm.IsSo && !truth.Accepted.Contains(alarm.Condition) && !truth.Consequences.Contains(alarm.Condition))];
        var finding = after.FirstOrDefault(alarm => truth.Accepted.Contains(alarm.Condition));
        LeastDelay = Math.Max(truth.LeastDelay, material.On(truth.Clock) - onset.On(truth.Clock));
        if (finding is null)
        {
            Found = end.On(truth.Clock) - material.On(truth.Clock) < truth.Patience ? Found.NotExposed : Found.Missed;
            return;
        }

        Finding = finding;
        var telling = after.Where(alarm => truth.Accepted.Contains(alarm.Condition)).ToList();
        Cause = telling.Select(alarm => Evidence(alarm, "cause")).FirstOrDefault(cause => cause is not null);
        Shape = telling.Select(alarm => Evidence(alarm, "change")).FirstOrDefault(shape => shape is "step" or "ramp");
        Delay = Math.Max(finding.Clocks.On(truth.Clock) - onset.On(truth.Clock), 0);
        Found = finding.Clocks.On(truth.Clock) - material.On(truth.Clock) <= truth.Patience ? Found.InTime : Found.Late;
        var first = after.FirstOrDefault(alarm => alarm.IsAboveLow && !alarm.IsSo) ?? finding;
        WrongFirst = WrongCauses.Count > 0 && WrongCauses[0].Time <= finding.Time;
        IsNamedBest = first.Condition == truth.Accepted[0] || finding.Condition == truth.Accepted[0];
    }

    public Scenario Scenario { get; }

    public IReadOnlyList<RaisedAlarm> Alarms { get; }

    public long Samples { get; }

    /// <summary>Alarms of a healthy machine, or of one whose fault has not begun.</summary>
    public IReadOnlyList<RaisedAlarm> FalseAlarms { get; }

    /// <summary>Alarms that were physically so.</summary>
    public int SoAlarms { get; }

    /// <summary>Calendar years in which every alarm that is not so is false.</summary>
    public double HealthyYears { get; }

    public Found Found { get; } = Found.Missed;

    public RaisedAlarm? Finding { get; }

    /// <summary>From the fault's onset to the alarm, on the fault's clock, s.</summary>
    public double Delay { get; }

    public double LeastDelay { get; }

    /// <summary>The cause that the first alarm with one names in its evidence; null where none does.</summary>
    public string? Cause { get; }

    /// <summary><c>step</c> or <c>ramp</c>, likewise.</summary>
    public string? Shape { get; }

    /// <summary>Alarms above low, after the onset, of a part that has nothing wrong.</summary>
    public IReadOnlyList<RaisedAlarm> WrongCauses { get; } = [];

    /// <summary>Such an alarm came before the right one.</summary>
    public bool WrongFirst { get; }

    /// <summary>The most telling condition was the one raised.</summary>
    public bool IsNamedBest { get; }

    private static string? Evidence(RaisedAlarm alarm, string name) => alarm.Change.Evidence.FirstOrDefault(evidence => evidence.Name == name).Text;
}
