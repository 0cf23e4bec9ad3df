using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>One alarm for all channels of a machine with the same fault; a further channel makes it worse, so it is said again.</summary>
internal abstract class SensorFault(ChannelFault fault, SensorHabits sensors, RuleSheet sheet) : Rule(sheet)
{
    protected static readonly ChannelSet EveryChannel = ChannelSet.Of([.. Channel.Canonical]) | ChannelSet.Tick | ChannelSet.RunChange;

    public override Verdict Update(Reading reading)
    {
        if (reading.Faults == 0)
            return new Verdict(Judgement.Normal);
        var faulty = 0;
        Channel? first = null;
        foreach (var channel in Channel.CanonicalSpan)
        {
            if (reading.FaultOf(channel) != fault)
                continue;
            faulty++;
            first ??= channel;
        }

        if (first is null)
            return new Verdict(Judgement.Normal);
        return fault switch
        {
            ChannelFault.Implausible => new Verdict(Judgement.Breach, sensors.LastImplausible(first).Value, null, faulty),
            ChannelFault.Silent => new Verdict(Judgement.Breach, reading.At.SecondsSince(reading.TimeOf(first)), sensors.PatienceSeconds(first), faulty),
            _ => new Verdict(Judgement.Breach, reading[first], null, faulty),
        };
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        var channels = Channel.Canonical.Where(c => reading.FaultOf(c) == fault).ToList();
        var names = string.Join(", ", channels.Select(c => c.Name));
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(PriorityOf(Degree.Plain), "", $"no channel is {Reading.Name(fault)} any more", [], []);
        var evidence = channels.Select(c => new Evidence(c.Name, fault switch
        {
            ChannelFault.Silent => $"last heard {reading.TimeOf(c)}",
            ChannelFault.Stuck => string.Create(
                System.Globalization.CultureInfo.InvariantCulture, $"{reading[c]:0.###} {c.Unit} to the last bit since {sensors.SameSince(c)}"),
            _ => string.Create(
                System.Globalization.CultureInfo.InvariantCulture, $"{sensors.LastImplausible(c).Value:0.###} {c.Unit} since {sensors.LastImplausible(c).Since}"),
        })).ToList();
        var unit = fault == ChannelFault.Silent ? "s" : channels[0].Unit;
        return new Finding(PriorityOf(Degree.Plain), unit, $"{names}: {Words()}; the rules that need it are blind", evidence, Checks);
    }

    public override IReadOnlyList<string> Lacks(Reading reading) => [];

    public override void Visit(StateVisitor state) { }

    private string Words() => fault switch
    {
        ChannelFault.Silent => "not heard during a run",
        ChannelFault.Stuck => "frozen, though it should move",
        _ => "reads what cannot be",
    };
}
