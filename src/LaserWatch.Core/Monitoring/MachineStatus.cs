using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>What is known of a machine at the moment: for the status topic and for <c>laserwatch check</c>.</summary>
/// <param name="Job">The job under way; null where none is, or it is not known.</param>
/// <param name="RunSince">Since when a run is under way; null where none is.</param>
/// <param name="NotJudged">Samples and events that were not judged, by reason (late, duplicate, implausible …).</param>
public sealed record MachineStatus(
    string Machine, string? Job, Instant? RunSince, IReadOnlyList<ChannelStatus> Channels, IReadOnlyList<RuleStatus> Rules,
    IReadOnlyDictionary<string, long> NotJudged)
{
    internal static MachineStatus Of(string machine, Reading reading, IReadOnlyList<Rule> rules, IReadOnlyDictionary<string, long> notJudged) => new(
        machine, reading.Run?.Job, reading.Run?.Since,
        [.. Channel.Canonical.Where(reading.Knows).Select(c => new ChannelStatus(c.Name, c.Unit, reading.TimeOf(c), reading[c], Fault(reading, c)))],
        [.. rules.Select(rule => new RuleStatus(rule.Condition, [.. Channel.Canonical.Where(c => rule.Sheet.Triggers.Has(c) && reading.Has(c)).Select(c => c.Name)], rule.Lacks(reading)))],
        notJudged);

    private static string? Fault(Reading reading, Channel channel) =>
        reading.FaultOf(channel) == ChannelFault.None ? null : Reading.Name(reading.FaultOf(channel));
}

/// <param name="Fault">Null, <c>silent</c>, <c>stuck</c> or <c>implausible</c>.</param>
public sealed record ChannelStatus(string Channel, string Unit, Instant LastAt, double LastValue, string? Fault);

/// <param name="Sees">The channels the rule uses now.</param>
/// <param name="Lacks">What it would need, in words; empty where it is complete.</param>
public sealed record RuleStatus(string Rule, IReadOnlyList<string> Sees, IReadOnlyList<string> Lacks);
