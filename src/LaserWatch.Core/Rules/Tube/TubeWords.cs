using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using LaserWatch.Life;
using LaserWatch.Models;
using LaserWatch.Telemetry;
using LaserWatch.Trends;
using LaserWatch.Upkeep;

namespace LaserWatch.Rules;

/// <summary>What the alarms of the tube's current say of how it fell and why.</summary>
internal static class TubeWords
{
    private static readonly TimeSpan PowersSeenWithin = TimeSpan.FromDays(7);
    private static readonly TimeSpan Late = TimeSpan.FromMinutes(30);
    private const int LeastBlocks = 3;
    private const double WellBelowPercent = 12;

    /// <summary>What is known about the fall now.</summary>
    public static TubeSymptoms Symptoms(TubeHealth health, ServiceLedger ledger, TubeLifeOptions life, double fall, ChangeFinding change)
    {
        var (from, to) = (HealthSeries.FromDays(change.BeganFromDays) - Late, HealthSeries.FromDays(change.BeganToDays) + Late);
        var changed = change.Kind is ChangeKind.Step or ChangeKind.Ramp;
        var cut = ledger.TestCuts.LastOrDefault(c => (!changed || c.At > from) && TestCutOutcome.Of(c) is not null);
        var serviced = changed ? ledger.Parts.Where(p => p.At >= from && p.At <= to && p.Part != "test-cut").Select(p => p.Part).FirstOrDefault() : null;
        return PowersOf(health, change, new TubeSymptoms
        {
            Fall = fall,
            Change = change,
            ZeroShift = health.Rest.Shift,
            CoolantCelsius = health.Coolant,
            CoolantAtBaselineCelsius = health.CoolantDependence.ReferenceCelsius,
            CoolantEffect = health.CoolantDependence.Effect(health.Coolant),
            Raggedness = health.Raggedness,
            LifeUsed = LifeUsed(health, ledger, life),
            ServicedAtChange = serviced,
            TestCutGood = cut is null ? null : TestCutOutcome.Of(cut),
        });
    }

    // Known only where the tube's installation is: a meter's hours may be an older tube's.
    private static double? LifeUsed(TubeHealth health, ServiceLedger ledger, TubeLifeOptions life)
    {
        if (health.All.Count == 0)
            return null;
        var age = TubeAge.Of(ledger, life, health.All.Time(0));
        return age.Months is { } months ? Math.Max(age.Hours / life.RatedHours, months / life.RatedMonths) : null;
    }

    public static IEnumerable<Evidence> OfChange(ChangeFinding change)
    {
        if (change.Kind == ChangeKind.Unknown)
        {
            yield return new Evidence("change", "too few stints of beam yet to tell a step from a slow fall");
            yield break;
        }

        yield return new Evidence("change", change.Kind switch { ChangeKind.Step => "step", ChangeKind.Ramp => "ramp", _ => "none" });
        yield return new Evidence(
            "change_weights",
            string.Create(CultureInfo.InvariantCulture, $"step {change.Step:0.00}, ramp {change.Ramp:0.00}, none {change.None:0.00}"));
        yield return new Evidence("level_now", Math.Round(change.Now, 4));
        yield return new Evidence("level_now_standard_error", Math.Round(change.NowError, 4));
        if (change.Kind == ChangeKind.None)
            yield break;
        yield return new Evidence("change_began", HealthSeries.FromDays(change.BeganDays).ToString());
        yield return new Evidence("change_began_from", HealthSeries.FromDays(change.BeganFromDays).ToString());
        yield return new Evidence("change_began_to", HealthSeries.FromDays(change.BeganToDays).ToString());
        yield return new Evidence("fall", Math.Round(change.Fall, 4));
        yield return new Evidence("fall_from", Math.Round(change.Fall - (1.96 * change.FallError), 4));
        yield return new Evidence("fall_to", Math.Round(change.Fall + (1.96 * change.FallError), 4));
    }

    public static IEnumerable<Evidence> OfCauses(IReadOnlyList<RankedTubeCause> causes)
    {
        yield return new Evidence("cause", causes[0].Name);
        yield return new Evidence("cause_weights", string.Join(", ", causes.Select(c => string.Create(CultureInfo.InvariantCulture, $"{c.Name} {c.Weight:0.00}"))));
        yield return new Evidence("tell_apart", causes[0].TellApart);
        yield return new Evidence("limit", TubeCauses.Limit);
    }

    private static TubeSymptoms PowersOf(TubeHealth health, ChangeFinding change, TubeSymptoms symptoms)
    {
        RatioWindow? top = null;
        foreach (var window in health.Powers)
        {
            if (SinceChange(window, health, change) is not null && (top is null || window.Power > top.Power))
                top = window;
        }

        if (top is null || SinceChange(top, health, change) is not { } highest)
            return symptoms;
        double weights = 0, falls = 0, powers = 0, currents = 0;
        foreach (var window in health.Powers)
        {
            if (window.Power > top.Power - WellBelowPercent || SinceChange(window, health, change) is not { } recent
                || health.Baseline.Expected(window.Power, null) is not { } expected)
                continue;
            var weight = 1 / (recent.Error * recent.Error);
            weights += weight;
            falls += weight * (1 - recent.Ratio);
            powers += weight * window.Power;
            currents += weight * expected.Milliamps;
        }

        var atTop = health.Baseline.Expected(top.Power, null)?.Milliamps ?? health.LastBaseline;
        return symptoms with
        {
            Top = new PowerFall(top.Power, 1 - highest.Ratio, highest.Error, atTop),
            Lower = weights == 0 ? null : new PowerFall(powers / weights, falls / weights, Math.Sqrt(1 / weights), currents / weights),
        };
    }

    // Only blocks of the last week, and only those cut after the change began.
    private static (double Ratio, double Error)? SinceChange(RatioWindow window, TubeHealth health, ChangeFinding change)
    {
        if (window.Count < LeastBlocks || health.All.Count == 0 || health.All.Time(0) - window.Time(0) > PowersSeenWithin)
            return null;
        var blocks = window.Count;
        if (change.Kind == ChangeKind.Step)
        {
            var began = HealthSeries.FromDays(change.BeganDays);
            while (blocks > 0 && window.Time(blocks - 1) < began)
                blocks--;
        }

        return window.Recent(blocks, LeastBlocks);
    }
}
