using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Coolant;

/// <summary>
/// Coolant flow is low while the tube needs it: below the configured least, below the machine's own usual flow, or so small that
/// the coolant warms too much in the tube for the load (<see cref="RiseWatch"/>).
/// </summary>
/// <remarks>
/// The usual flow is the median of the first hour of beam-on minutes; a pump that is off between jobs is nobody's fault. What the heat
/// balance has said stands until the tube has worked under good flow again.
/// </remarks>
internal sealed class CoolantFlowDetector(CoolantOptions options) : IDetector
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
        Rise.Follow(reading);
        var measured = Measured(reading);
        // A flow sensor that is believed knows better than a balance of heats that are not measured.
        _byHeatAlone = Rise.IsLow && !reading.Has(Channel.CoolantFlow);
        if (_byHeatAlone)
            return new Verdict(Judgement.Breach, Rise.FlowPercent, 100 * (1 - options.FlowTolerance));
        return measured.Judgement == Judgement.Undecided && Rise.IsTaught && !reading.Has(Channel.CoolantFlow)
            ? new Verdict(Judgement.Normal, Rise.FlowPercent, 100 * (1 - options.FlowTolerance))
            : measured;
    }

    private Verdict Measured(Reading reading)
    {
        if (!reading.Has(Channel.CoolantFlow))
            return default;
        var at = reading.TimeOf(Channel.CoolantFlow);
        var needed = reading.BeamOn == true || (reading.BeamLastOn is { } last && at.SecondsSince(last) <= BeamGapSeconds)
            || (reading.BeamOn is null && reading.Run is not null);
        var flow = reading[Channel.CoolantFlow];
        if (!needed)
        {
            _low.Reset();
            _none.Reset();
            return new Verdict(Judgement.Normal, flow, Limit);
        }

        if (!reading.Fresh.Has(Channel.CoolantFlow))
            return default;
        Learn(flow, at);
        if (Limit is not { } limit)
            return default;
        var low = _low.Update(flow < limit, flow > limit * 1.05, at, options.FlowOnDelaySeconds, options.OffDelaySeconds);
        var none = _none.Update(flow < PracticallyNone * limit, flow > limit, at, 0, 0);
        return new Verdict(low || none ? Judgement.Breach : Judgement.Normal, flow, limit, none ? 1 : 0);
    }

    public Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(Priorities.Of(Condition, Degree.Plain), reading.Has(Channel.CoolantFlow) ? Channel.CoolantFlow.Unit : "%", "coolant flow is good, or not needed", [], []);
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
        if (reading.Has(Channel.CoolantFlow))
            return Limit is null ? ["the machine's usual flow is still being learned, and no least flow is configured"] : [];
        if (reading.Lack(Channel.CoolantFlow) is not { } flow)
            return [];
        if (Rise.IsTaught && reading.Has(Channel.CoolantIn) && reading.Has(Channel.CoolantOut))
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
