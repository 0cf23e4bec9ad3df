using LaserWatch.Alarms;
using LaserWatch.Monitoring;

namespace LaserWatch.Rules;

/// <summary>Judges one condition of one machine. Knows no clock, no store, no log: time is the readings' own.</summary>
/// <remarks>A new rule is a file of its own, a line in <see cref="RuleBook"/>, and tests. Nothing else names it.</remarks>
public abstract class Rule(RuleSheet sheet)
{
    /// <summary>What does not change: names, channels, priorities, checks.</summary>
    public RuleSheet Sheet { get; } = sheet;

    public string Condition => Sheet.Condition;

    protected IReadOnlyList<string> Checks => Sheet.Checks;

    /// <summary>O(1) in time and memory, and allocates nothing.</summary>
    public abstract Verdict Update(Reading reading);

    /// <summary>Puts the last verdict into words; called only when an alarm changes.</summary>
    public abstract Finding Explain(Reading reading, Verdict verdict);

    /// <summary>What the rule would need and does not have, in words; empty where it is complete.</summary>
    public abstract IReadOnlyList<string> Lacks(Reading reading);

    /// <summary>Walks the fields that a restart must not forget.</summary>
    public abstract void Visit(StateVisitor state);

    /// <summary>Forgets what was judged of a part that has been replaced.</summary>
    public virtual void Reset()
    {
    }

    protected AlarmPriority PriorityOf(Degree degree) => Sheet.PriorityOf(degree);
}
