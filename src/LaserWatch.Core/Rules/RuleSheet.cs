using LaserWatch.Alarms;
using LaserWatch.Monitoring;

namespace LaserWatch.Rules;

/// <summary>When a rule is asked.</summary>
public enum RuleMoment
{
    /// <summary>With each sample of its channels, as it comes.</summary>
    AtOnce,

    /// <summary>When the tube's model has taken a block of samples, five seconds late and in time order.</summary>
    InOrder,

    /// <summary>As time passes, and when work is logged.</summary>
    Upkeep,
}

/// <summary>Why an alarm of this degree has its priority.</summary>
public readonly record struct Weight(Degree Degree, Consequence Consequence, TimeToRespond Time, string Why);

/// <summary>Another condition that brings this one about.</summary>
/// <param name="Folded">
/// True: while the cause is raised this alarm says nothing new, and is suppressed by design. False: it is told all the same
/// (a danger of its own), and only stands behind its cause where alarms are grouped.
/// </param>
/// <param name="SettlingMinutes">How long this one may outlast its cause.</param>
public readonly record struct Explanation(string Cause, bool Folded, string Why, double SettlingMinutes = 0);

/// <summary>All that is fixed of a rule: what the README, the schema and <c>check</c> tell of it.</summary>
/// <param name="Condition">As spelled in topics, recordings and JSON.</param>
public sealed record RuleSheet(string Condition)
{
    /// <summary>How it is judged, for the README's table.</summary>
    public required string Judged { get; init; }

    /// <summary>The channels whose new values can change the verdict, and the signs that can.</summary>
    public required ChannelSet Triggers { get; init; }

    public RuleMoment Moment { get; init; } = RuleMoment.AtOnce;

    /// <summary>One for each degree that the rule tells.</summary>
    public required IReadOnlyList<Weight> Weights { get; init; }

    /// <summary>Nearest cause first. Common practice of the trade and the physics of the loop; no published source.</summary>
    public IReadOnlyList<Explanation> ExplainedBy { get; init; } = [];

    /// <summary>
    /// What to check first, most telling and least effort first. Common practice of the trade, no published source. Each line may be read
    /// alone, so each names its own caution; what touches mains, supply or the high-voltage side is a qualified person's work.
    /// </summary>
    public required IReadOnlyList<string> Checks { get; init; }

    /// <summary>The alarm waits to be reset by a person after its condition is over.</summary>
    public bool Latches { get; init; }

    /// <exception cref="ArgumentException">The rule never tells of this degree.</exception>
    public AlarmPriority PriorityOf(Degree degree)
    {
        foreach (var weight in Weights)
        {
            if (weight.Degree == degree)
                return Priorities.Of(weight.Consequence, weight.Time);
        }

        throw new ArgumentException($"{Condition} has no degree {degree}.", nameof(degree));
    }
}
