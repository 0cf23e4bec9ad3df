using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string CoolantFlowLow = "coolant-flow-low";
}

/// <summary>
/// Coolant flow is low while the tube needs it: below the configured least, below the machine's own usual flow, or so small that
/// the coolant warms too much in the tube for the load (<see cref="RiseWatch"/>).
/// </summary>
/// <remarks>
/// The usual flow is the median of the first hour of beam-on minutes; a pump that is off between jobs is nobody's fault. What the heat
/// balance has said stands until the tube has worked under good flow again.
/// </remarks>
internal sealed class CoolantFlowLow(UsualFlow usualFlow, RiseWatch rise, CoolantOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.CoolantFlowLow)
    {
        Judged = "The flow is 30 % below the machine's usual flow with the beam on. Without a flow sensor: the coolant warms 1.43 times as much in the tube as it used to at like load.",
        Triggers = ChannelSet.Of(Channel.CoolantFlow, Channel.CoolantOut) | ChannelSet.RunChange,
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "the tube warms"),
            new(Degree.Severe, Consequence.Damage, TimeToRespond.Seconds, "without flow a tube is lost within seconds"),
        ],
        Checks =
        [
            "Stop the beam: without flow the tube can be destroyed in seconds",
            "See that the pump runs and no hose is pinched; do not touch tube or hoses near the high-voltage end",
            "Look for bubbles and at the coolant level; do not touch the tube",
            "Machine off and pump unplugged: look for growth or scale in the filter and the flow sensor",
        ],
    };

    private const double PracticallyNone = 0.25;

    private DelayedSwitch _low;
    private DelayedSwitch _none;
    private bool _byHeatAlone;

    public override Verdict Update(Reading reading)
    {
        // A flow sensor that is believed knows better than a balance of heats that are not measured.
        var measured = reading.Has(CanonicalIndex.CoolantFlow);
        _byHeatAlone = rise.IsLow && !measured;
        if (measured)
            return JudgeFlow(reading);
        return _byHeatAlone || rise.IsTaught
            ? new Verdict(_byHeatAlone ? Judgement.Breach : Judgement.Normal, rise.FlowPercent, 100 * (1 - options.FlowTolerance))
            : default;
    }

    private Verdict JudgeFlow(Reading reading)
    {
        var (flow, at) = (reading[CanonicalIndex.CoolantFlow], reading.TimeOf(CanonicalIndex.CoolantFlow));
        if (!UsualFlow.IsNeeded(reading))
        {
            _low.Reset();
            _none.Reset();
            return new Verdict(Judgement.Normal, flow, Limit);
        }

        if (!reading.IsFresh(CanonicalIndex.CoolantFlow) || Limit is not { } limit)
            return default;
        var low = _low.Update(flow < limit, flow > limit * 1.05, at, options.FlowOnDelaySeconds, options.OffDelaySeconds);
        var none = _none.Update(flow < PracticallyNone * limit, flow > limit, at, 0, 0);
        return new Verdict(low || none ? Judgement.Breach : Judgement.Normal, flow, limit, none ? 1 : 0);
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(PriorityOf(Degree.Plain), reading.Has(CanonicalIndex.CoolantFlow) ? Channel.CoolantFlow.Unit : "%", "coolant flow is good, or not needed", [], []);
        List<Evidence> evidence = [];
        if (usualFlow.LitresPerMinute is { } usual)
            evidence.Add(new Evidence("usual_flow", Math.Round(usual, 3)));
        if (rise.RatioNow is { } ratio)
        {
            evidence.Add(new Evidence("rise_at_like_load_ratio", Math.Round(ratio, 3)));
            evidence.Add(new Evidence("rise_ratio_standard_error", Math.Round(rise.RatioError, 3)));
            evidence.Add(new Evidence("flow_by_heat_balance_percent", Math.Round(rise.FlowPercent ?? 0, 1)));
            evidence.Add(new Evidence("usual_rise_at_full_load_kelvins", Math.Round(rise.KelvinsAtFullLoad, 2)));
        }

        if (rise.Watts is { } watts)
            evidence.Add(new Evidence("heat_watts", Math.Round(watts)));
        if (!_byHeatAlone)
        {
            return new Finding(
                PriorityOf(verdict.Grade > 0 ? Degree.Severe : Degree.Plain), Channel.CoolantFlow.Unit,
                string.Create(CultureInfo.InvariantCulture, $"coolant flow {verdict.Value:0.00} L/min is below {verdict.Limit:0.00} L/min while the tube needs it"),
                evidence, Checks);
        }

        return new Finding(
            PriorityOf(Degree.Plain), "%",
            string.Create(CultureInfo.InvariantCulture, $"by the heat balance the coolant flows at {verdict.Value:0} % of its usual rate: it warms {rise.RatioNow:0.00} times as much in the tube as it used to at like load (the balance sees flow and heat, not light: it says nothing of the tube's power)"),
            evidence, Checks);
    }

    public override IReadOnlyList<string> Lacks(Reading reading)
    {
        if (reading.Has(CanonicalIndex.CoolantFlow))
            return Limit is null ? ["the machine's usual flow is still being learned, and no least flow is configured"] : [];
        if (reading.Lack(Channel.CoolantFlow) is not { } flow)
            return [];
        if (rise.IsTaught && reading.Has(CanonicalIndex.CoolantIn) && reading.Has(CanonicalIndex.CoolantOut))
            return [];
        if (reading.Lack(Channel.CoolantIn) is not null || reading.Lack(Channel.CoolantOut) is not null)
            return [flow];
        return [flow, string.Create(CultureInfo.InvariantCulture, $"the rise of temperature in the tube, which can stand in, is being learned: {rise.HoursLearned:0.0} of {RiseWatch.HoursThatTeach:0} h of beam")];
    }

    public override void Visit(StateVisitor state)
    {
        _low.Visit(state);
        _none.Visit(state);
        state.Walk(ref _byHeatAlone);
    }

    private double? Limit => (usualFlow.LitresPerMinute * (1 - options.FlowTolerance), options.LeastFlowLitresPerMinute) switch
    {
        ({ } own, { } least) => Math.Max(own, least),
        ({ } own, null) => own,
        (null, var least) => least,
    };
}
