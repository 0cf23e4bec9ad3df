using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Coolant;

/// <summary>Coolant flow is low while the tube needs it: below the configured least, or below the machine's own usual flow.</summary>
/// <remarks>The usual flow is the median of the first hour of beam-on minutes; a pump that is off between jobs is nobody's fault.</remarks>
internal sealed class CoolantFlowDetector(CoolantOptions options) : IDetector
{
    private const int MinutesThatTeach = 60;
    private const int LeastMinutes = 5;
    private const double PracticallyNone = 0.25;
    private const double BeamGapSeconds = 30;

    private readonly DelayedSwitch _low = new();
    private readonly DelayedSwitch _none = new();
    private double[] _minutes = [];
    private double _sum;
    private int _count;
    private Instant? _minute;
    private double? _usual;

    public string Condition => Conditions.CoolantFlowLow;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.CoolantFlow) | ChannelSet.RunChange;

    public Verdict Update(Reading reading)
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

    public Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            verdict.Grade > 0 ? AlarmPriority.Urgent : AlarmPriority.High, Channel.CoolantFlow.Unit,
            string.Create(CultureInfo.InvariantCulture, $"coolant flow {verdict.Value:0.00} L/min is below {verdict.Limit:0.00} L/min while the tube needs it"),
            _usual is { } usual ? [new Evidence("usual_flow", Math.Round(usual, 3))] : [],
            Advice.For(Condition))
        : new Finding(AlarmPriority.High, Channel.CoolantFlow.Unit, "coolant flow is good, or not needed", [], []);

    public IReadOnlyList<string> Lacks(Reading reading) => reading.Lack(Channel.CoolantFlow) is { } lack ? [lack]
        : Limit is null ? ["the machine's usual flow is still being learned, and no least flow is configured"]
        : [];

    public void Visit(StateVisitor state)
    {
        _low.Visit(state);
        _none.Visit(state);
        state.Walk(ref _minutes);
        state.Walk(ref _sum);
        state.Walk(ref _count);
        state.Walk(ref _minute);
        state.Walk(ref _usual);
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
