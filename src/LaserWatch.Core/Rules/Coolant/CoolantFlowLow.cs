using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>
/// Coolant flow is low while the tube needs it: below the configured least, below the machine's own usual flow, or so small that
/// the coolant warms too much in the tube for the load (<see cref="RiseWatch"/>).
/// </summary>
/// <remarks>
/// The usual flow is the median of the first hour of beam-on minutes; a pump that is off between jobs is nobody's fault. What the heat
/// balance has said stands until the tube has worked under good flow again.
/// </remarks>
internal sealed class CoolantFlowLow(CoolantOptions options) : IDetector
{
    private const int MinutesThatTeach = 60;
    private const int LeastMinutes = 5;
    private const double PracticallyNone = 0.25;
    private const double BeamGapSeconds = 30;

    private DelayedSwitch _low;
    private DelayedSwitch _none;
    private double[] _minutes = [];
    private double _sum;
    private int _count;
    private Instant? _minute;
    private double? _usual;
    private bool _byHeatAlone;

    /// <summary>The heat balance that stands in where flow is not measured.</summary>
    public RiseWatch Rise { get; } = new(options);

    public string Condition => Conditions.CoolantFlowLow;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.CoolantFlow, Channel.CoolantOut) | ChannelSet.RunChange;

    public Verdict Update(Reading reading)
    {
        Follow(reading, HeatLoad.Of(reading));
        return Say(reading);
    }

    /// <summary>Takes the reading; true where the verdict is a breach.</summary>
    public bool Follow(Reading reading, HeatLoad load)
    {
        Rise.Follow(reading, load);
        // A flow sensor that is believed knows better than a balance of heats that are not measured.
        var measured = reading.Has(CanonicalIndex.CoolantFlow);
        _byHeatAlone = Rise.IsLow && !measured;
        return measured ? FollowMeasured(reading) : _byHeatAlone;
    }

    /// <summary>The verdict on the reading that was taken last.</summary>
    public Verdict Say(Reading reading)
    {
        if (!reading.Has(CanonicalIndex.CoolantFlow))
            return _byHeatAlone || Rise.IsTaught
                ? new Verdict(_byHeatAlone ? Judgement.Breach : Judgement.Normal, Rise.FlowPercent, 100 * (1 - options.FlowTolerance))
                : default;
        var flow = reading[CanonicalIndex.CoolantFlow];
        if (!IsNeeded(reading))
            return new Verdict(Judgement.Normal, flow, Limit);
        return reading.IsFresh(CanonicalIndex.CoolantFlow) && Limit is { } limit
            ? new Verdict(_low.IsOn || _none.IsOn ? Judgement.Breach : Judgement.Normal, flow, limit, _none.IsOn ? 1 : 0)
            : default;
    }

    private bool FollowMeasured(Reading reading)
    {
        if (!IsNeeded(reading))
        {
            _low.Reset();
            _none.Reset();
            return false;
        }

        if (!reading.IsFresh(CanonicalIndex.CoolantFlow))
            return false;
        var (flow, at) = (reading[CanonicalIndex.CoolantFlow], reading.TimeOf(CanonicalIndex.CoolantFlow));
        Learn(flow, at);
        if (Limit is not { } limit)
            return false;
        var low = _low.Update(flow < limit, flow > limit * 1.05, at, options.FlowOnDelaySeconds, options.OffDelaySeconds);
        var none = _none.Update(flow < PracticallyNone * limit, flow > limit, at, 0, 0);
        return low || none;
    }

    private static bool IsNeeded(Reading reading) =>
        reading.BeamOn == true || (reading.BeamLastOn is { } last && reading.TimeOf(CanonicalIndex.CoolantFlow).SecondsSince(last) <= BeamGapSeconds)
        || (reading.BeamOn is null && reading.Run is not null);

    public Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(Priorities.Of(Condition, Degree.Plain), reading.Has(CanonicalIndex.CoolantFlow) ? Channel.CoolantFlow.Unit : "%", "coolant flow is good, or not needed", [], []);
        List<Evidence> evidence = [];
        if (_usual is { } usual)
            evidence.Add(new Evidence("usual_flow", Math.Round(usual, 3)));
        if (Rise.RatioNow is { } ratio)
        {
            evidence.Add(new Evidence("rise_at_like_load_ratio", Math.Round(ratio, 3)));
            evidence.Add(new Evidence("rise_ratio_standard_error", Math.Round(Rise.RatioError, 3)));
            evidence.Add(new Evidence("flow_by_heat_balance_percent", Math.Round(Rise.FlowPercent ?? 0, 1)));
            evidence.Add(new Evidence("usual_rise_at_full_load_kelvins", Math.Round(Rise.KelvinsAtFullLoad, 2)));
        }

        if (Rise.Watts is { } watts)
            evidence.Add(new Evidence("heat_watts", Math.Round(watts)));
        if (!_byHeatAlone)
        {
            return new Finding(
                Priorities.Of(Condition, verdict.Grade > 0 ? Degree.Severe : Degree.Plain), Channel.CoolantFlow.Unit,
                string.Create(CultureInfo.InvariantCulture, $"coolant flow {verdict.Value:0.00} L/min is below {verdict.Limit:0.00} L/min while the tube needs it"),
                evidence, Advice.For(Condition));
        }

        return new Finding(
            Priorities.Of(Condition, Degree.Plain), "%",
            string.Create(CultureInfo.InvariantCulture, $"by the heat balance the coolant flows at {verdict.Value:0} % of its usual rate: it warms {Rise.RatioNow:0.00} times as much in the tube as it used to at like load (the balance sees flow and heat, not light: it says nothing of the tube's power)"),
            evidence, Advice.For(Condition));
    }

    public IReadOnlyList<string> Lacks(Reading reading)
    {
        if (reading.Has(CanonicalIndex.CoolantFlow))
            return Limit is null ? ["the machine's usual flow is still being learned, and no least flow is configured"] : [];
        if (reading.Lack(Channel.CoolantFlow) is not { } flow)
            return [];
        if (Rise.IsTaught && reading.Has(CanonicalIndex.CoolantIn) && reading.Has(CanonicalIndex.CoolantOut))
            return [];
        if (reading.Lack(Channel.CoolantIn) is not null || reading.Lack(Channel.CoolantOut) is not null)
            return [flow];
        return [flow, string.Create(CultureInfo.InvariantCulture, $"the rise of temperature in the tube, which can stand in, is being learned: {Rise.HoursLearned:0.0} of {RiseWatch.HoursThatTeach:0} h of beam")];
    }

    public void Visit(StateVisitor state)
    {
        _low.Visit(state);
        _none.Visit(state);
        state.Walk(ref _minutes);
        state.Walk(ref _sum);
        state.Walk(ref _count);
        state.Walk(ref _minute);
        state.Walk(ref _usual);
        state.Walk(ref _byHeatAlone);
        Rise.Visit(state);
    }

    private double? Limit => (_usual * (1 - options.FlowTolerance), options.LeastFlowLitresPerMinute) switch
    {
        ({ } own, { } least) => Math.Max(own, least),
        ({ } own, null) => own,
        (null, var least) => least,
    };

    private void Learn(double flow, Instant at)
    {
        if (_minutes.Length >= MinutesThatTeach)
            return;
        _minute ??= at;
        if (at.SecondsSince(_minute.Value) >= 60)
        {
            if (_count > 0)
                _minutes = [.. _minutes, _sum / _count];
            (_sum, _count, _minute) = (0, 0, at);
            if (_minutes.Length >= LeastMinutes)
                _usual = _minutes.Order().ElementAt(_minutes.Length / 2);
        }

        _sum += flow;
        _count++;
    }
}
