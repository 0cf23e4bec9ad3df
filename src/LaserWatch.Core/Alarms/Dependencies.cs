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

/// <summary>What the rules say explains them, as one table: nearest cause first.</summary>
public static class Dependencies
{
    public static readonly IReadOnlyList<Dependency> All =
    [
        .. RuleBook.Sheets.SelectMany(sheet => sheet.ExplainedBy.Select(e => new Dependency(sheet.Condition, e.Cause, e.Folded, e.Why, e.SettlingMinutes))),
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
