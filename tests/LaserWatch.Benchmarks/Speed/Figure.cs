using System.Globalization;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>One line of the table: what we do, beside the yardstick that was measured in the same run on the same machine.</summary>
/// <param name="What">What was measured, in the words of the table.</param>
/// <param name="Ours">With its unit.</param>
/// <param name="Yardstick">The raw ceiling with its unit, and what it is; empty where the goal is a figure by itself.</param>
/// <param name="Judged">What is held against the goal: a ratio, or a figure in the goal's unit.</param>
/// <param name="Sane">What a short run beside other load may come to; outside of it something is broken, not slow.</param>
public sealed record Figure(string What, string Ours, string Yardstick, double Judged, Goal Goal, (double Least, double Most) Sane)
{
    public bool IsMet => Goal.IsMetBy(Judged);

    public bool IsSane => Judged >= Sane.Least && Judged <= Sane.Most;
}

/// <summary>A bound that a figure is to keep.</summary>
/// <param name="Unit">As printed after a value; empty for a ratio.</param>
public readonly record struct Goal(double Bound, bool IsLeast, string Unit)
{
    public static Goal AtLeast(double bound, string unit = "") => new(bound, true, unit);

    public static Goal AtMost(double bound, string unit = "") => new(bound, false, unit);

    public bool IsMetBy(double value) => IsLeast ? value >= Bound : value <= Bound;

    public string Print(double value) => string.Create(CultureInfo.InvariantCulture, $"{value:0.###}{(Unit.Length == 0 ? "" : " ")}{Unit}");

    public override string ToString() => $"{(IsLeast ? "≥" : "≤")} {Print(Bound)}";
}
