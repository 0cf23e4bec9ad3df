using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Air;

/// <summary>During a run, the pressure is below the job's recorded value by more than its tolerance.</summary>
/// <remarks>
/// A one-sided sum of the shortfall (a CUSUM with the limit as its reference) with an on-delay: a deep fall is told after the
/// on-delay, one just past the limit when enough has added up, and the swing of a compressor that dips past it and comes
/// back adds up to nothing.
/// </remarks>
internal sealed class AirPressureLowDetector(AirLine air, AirPressureOptions options) : IDetector
{
    private double _deficit;
    private Instant? _lowSince;
    private Instant? _goodSince;
    private bool _breach;
    private int _run;

    public string Condition => Conditions.AirPressureLow;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.AirPressure) | ChannelSet.RunChange;

    public Verdict Update(Reading reading)
    {
        if (reading.Run is not { } run || air.Recorded is not { } recorded)
        {
            // Without a pressure sensor to believe, a standing alarm stands; without a run it has no object.
            if (reading.Run is not null && reading.Run.Record?.AirPressure is not null && !reading.Has(Channel.AirPressure))
                return default;
            Reset();
            return new Verdict(Judgement.Normal);
        }

        if (run.Number != _run)
        {
            Reset();
            _run = run.Number;
        }

        if (!reading.Fresh.Has(Channel.AirPressure) || !air.IsJudged)
            return Say(reading);

        var at = reading.TimeOf(Channel.AirPressure);
        var pressure = air.Median;
        if (!_breach)
        {
            var step = (air.Limit - pressure) / recorded * 100 * air.StepSeconds;
            _deficit = Math.Max(0, _deficit + step);
            if (pressure >= air.Limit && _deficit == 0)
                _lowSince = null;
            else
                _lowSince ??= at;
            var longEnough = _lowSince is { } since && at.SecondsSince(since) >= options.OnDelaySeconds;
            _breach = longEnough && _deficit >= options.LeastDeficitPercentSeconds && pressure < air.Limit
                && reading[Channel.AirPressure] < air.Limit;
            if (_breach)
                _goodSince = null;
        }
        else if (pressure >= air.Limit + (options.Deadband * recorded))
        {
            _goodSince ??= at;
            if (at.SecondsSince(_goodSince.Value) >= options.OffDelaySeconds)
            {
                _breach = false;
                _deficit = 0;
                _lowSince = null;
            }
        }
        else
        {
            _goodSince = null;
        }

        return Say(reading);
    }

    public Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
        {
            var why = reading.Run is null ? "the run is over" : "air pressure is back at the job's recorded value";
            return new Finding(AlarmPriority.High, Channel.AirPressure.Unit, why, [], []);
        }

        var recorded = air.Recorded ?? 0;
        var fall = 1 - (verdict.Value!.Value / recorded);
        return new Finding(
            AlarmPriority.High,
            Channel.AirPressure.Unit,
            string.Create(CultureInfo.InvariantCulture, $"air pressure {verdict.Value:0.0} kPa is {fall * 100:0} % below the {recorded:0.0} kPa recorded for {reading.Run?.Job}"),
            [
                new Evidence("recorded", recorded), new Evidence("fall_percent", Math.Round(fall * 100, 1)),
                new Evidence("low_since", (_lowSince ?? reading.At).ToString()),
            ],
            Advice.For(Condition));
    }

    public IReadOnlyList<string> Lacks(Reading reading) => reading.Lack(Channel.AirPressure) is { } lack ? [lack]
        : reading.Run is { } run && run.Record?.AirPressure is null ? [run.Job is null ? "the job is unknown" : $"no pressure is recorded for {run.Job}"]
        : [];

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _deficit);
        state.Walk(ref _lowSince);
        state.Walk(ref _goodSince);
        state.Walk(ref _breach);
        state.Walk(ref _run);
    }

    private Verdict Say(Reading reading) =>
        new(_breach ? Judgement.Breach : Judgement.Normal, reading[Channel.AirPressure], air.Limit);

    private void Reset()
    {
        _deficit = 0;
        _lowSince = null;
        _goodSince = null;
        _breach = false;
    }
}
