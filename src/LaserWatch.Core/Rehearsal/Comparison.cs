using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Rehearsal;

/// <summary>The same past judged by two settings, A and B.</summary>
/// <param name="Pairs">By machine, condition and time.</param>
/// <param name="Days">UTC days with a sample.</param>
/// <param name="First">When the past begins; null where there was nothing in it.</param>
public sealed record Comparison(IReadOnlyList<AlarmPair> Pairs, int Days, Instant? First, Instant? Last)
{
    public static Comparison Of(IReadOnlyList<RaisedAlarm> a, IReadOnlyList<RaisedAlarm> b, TimeSpan tolerance, int days, Instant? first, Instant? last) =>
        new(AlarmMatching.Match(a, b, tolerance), days, first, last);

    public SideTally A => SideTally.Of([.. Pairs.Select(p => p.A).OfType<RaisedAlarm>()]);

    public SideTally B => SideTally.Of([.. Pairs.Select(p => p.B).OfType<RaisedAlarm>()]);

    public IReadOnlyList<ConditionTally> Conditions => RehearsalTally.ByCondition(Pairs);

    public bool IsSame => Pairs.All(p => p.Fate == AlarmFate.Same);

    /// <summary>Alarms a day with samples; null where there is none.</summary>
    public double? PerDay(SideTally side) => Days == 0 ? null : (double)side.Raised / Days;
}
