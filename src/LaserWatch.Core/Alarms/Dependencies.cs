using LaserWatch.Rules;

namespace LaserWatch.Alarms;

/// <summary>Which alarm is a consequence of which other one, on the same machine.</summary>
/// <param name="Folded">
/// True: while the cause is raised the effect says nothing new, and is suppressed by design. False: the effect is told all the same
/// (a danger of its own), and only stands behind its cause where alarms are grouped.
/// </param>
/// <param name="SettlingMinutes">How long the effect may outlast its cause.</param>
public readonly record struct Dependency(string Effect, string Cause, bool Folded, string Why, double SettlingMinutes = 0)
{
    public TimeSpan Settling => TimeSpan.FromMinutes(SettlingMinutes);
}

/// <summary>The table of dependencies, nearest cause first. Common practice of the trade and the physics of the loop; no published source.</summary>
public static class Dependencies
{
    public static readonly IReadOnlyList<Dependency> All =
    [
        new(Conditions.AirPressureLow, Conditions.AirPressureLost, true, "no air is low air", 1),
        new(Conditions.TubeCurrentSag, Conditions.TubeCurrentStep, true, "the step is the fall"),
        new(Conditions.TubeCurrentSag, Conditions.CoolantHot, true, "a warm tube takes less current at the same command", 20),
        new(Conditions.CoolantTimeToLimit, Conditions.CoolantHot, true, "the limit is reached", 30),
        new(Conditions.CoolantDrift, Conditions.CoolantHot, true, "the coolant is past its limit, which says more", 30),
        new(Conditions.CoolantDrift, Conditions.CoolantFlowLow, true, "less flow moves the coolant from its normal", 30),
        new(Conditions.CoolantTimeToLimit, Conditions.CoolantFlowLow, false, "less flow warms the coolant"),
        new(Conditions.CoolantHot, Conditions.CoolantFlowLow, false, "less flow warms the coolant"),
        new(Conditions.CondensationRisk, Conditions.CoolantCold, false, "cold coolant is nearer to the dew point"),
        new(Conditions.TubeLife, Conditions.TubeCurrentSag, false, "the fall is what the end is projected from"),
    ];

    /// <summary>The conditions that explain the effect, nearest first.</summary>
    public static IEnumerable<Dependency> CausesOf(string effect) => All.Where(d => d.Effect == effect);

    /// <summary>Whether one condition explains the other, directly or by way of others. The table may hold a circle.</summary>
    public static bool Explains(string cause, string effect)
    {
        var seen = new HashSet<string>(StringComparer.Ordinal);
        return Leads(effect);

        bool Leads(string to) => seen.Add(to) && CausesOf(to).Any(d => d.Cause == cause || Leads(d.Cause));
    }
}
