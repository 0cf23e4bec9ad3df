using LaserWatch.Monitoring;

namespace LaserWatch.Rules;

/// <summary>Judges one condition of one machine. Knows no clock, no store, no log: time is the readings' own.</summary>
/// <remarks>
/// A new detector also needs: its condition in <c>Conditions</c>, its options in <c>MonitorOptions</c>, its line in
/// <c>MachineWatch</c>'s list, and its checks in <c>Advice</c>.
/// </remarks>
public interface IDetector
{
    string Condition { get; }

    /// <summary>The channels whose new values can change the verdict.</summary>
    ChannelSet Triggers { get; }

    /// <summary>O(1) in time and memory, and allocates nothing.</summary>
    Verdict Update(Reading reading);

    /// <summary>Puts the last verdict into words; called only when an alarm changes.</summary>
    Finding Explain(Reading reading, Verdict verdict);

    /// <summary>What the rule would need and does not have, in words; empty where it is complete.</summary>
    IReadOnlyList<string> Lacks(Reading reading);

    void Visit(StateVisitor state);
}
