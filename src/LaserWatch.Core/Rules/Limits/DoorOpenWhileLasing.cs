using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string DoorOpenWhileLasing = "door-open-while-lasing";
}

/// <summary>The beam is on while the shop's own channel <c>door</c> says that the enclosure is open.</summary>
/// <remarks>It tells of an interlock that does not work; it is none. It comes after the fact, by sensors that may be wrong.</remarks>
internal sealed class DoorOpenWhileLasing() : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.DoorOpenWhileLasing)
    {
        Judged = "The beam is on while the channel `door` (0 shut, 1 open) says open, for 1 s. This is no interlock: it tells that one may have failed.",
        Triggers = ChannelSet.Of(Channel.Lasing, Channel.TubeCurrent) | ChannelSet.Others,
        Weights = [new(Degree.Plain, Consequence.Harm, TimeToRespond.Hours, "the interlock may have failed; a message is too late to guard anybody")],
        Checks =
        [
            "Stop the beam at the emergency stop and keep everybody away; look at the machine only when the beam is off",
            "Do not cut again before a qualified person has tested the interlock",
            "With the machine off, look at the door sensor and its wiring",
        ],
    };

    private const double OnDelaySeconds = 1;
    private const double OffDelaySeconds = 5;

    private DelayedSwitch _switch;

    public override Verdict Update(Reading reading)
    {
        if (Door(reading) is not { } door || reading.BeamOn is not { } on)
            return default;
        var open = reading[door] >= 0.5 && on;
        var told = _switch.Update(open, !open, reading.At, OnDelaySeconds, OffDelaySeconds);
        return new Verdict(told ? Judgement.Breach : Judgement.Normal, reading[door], 0);
    }

    public override Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            PriorityOf(Degree.Plain), "", "the beam is on and the door is open; stop the beam. This message is no interlock", [new Evidence("beam_since", reading.BeamSince.ToString())], Checks)
        : new Finding(PriorityOf(Degree.Plain), "", "the door is shut, or the beam is off", [], []);

    public override IReadOnlyList<string> Lacks(Reading reading)
    {
        List<string> lacks = [];
        if (Door(reading) is null)
            lacks.Add("door: never heard");
        if (reading.BeamOn is null)
            lacks.Add($"{Channel.Lasing.Name} or {Channel.TubeCurrent.Name}: whether the beam is on is not known");
        return lacks;
    }

    public override void Visit(StateVisitor state) => _switch.Visit(state);

    private static Channel? Door(Reading reading) => reading.Find("door");
}
