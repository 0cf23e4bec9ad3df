using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string AirPressureLow = "air-pressure-low";
}

/// <summary>During a run, the pressure is below the job's recorded value by more than its tolerance.</summary>
/// <remarks>
/// A one-sided sum of the shortfall (a CUSUM with the limit as its reference) with an on-delay: a deep fall is told after the
/// on-delay, one just past the limit when enough has added up, and the swing of a compressor that dips past it and comes
/// back adds up to nothing. A fall of the job's usual level that is still within the tolerance is advice of low priority; it stands over
/// runs, until the level is back or the tolerance is passed, which is announced anew.
/// </remarks>
internal sealed class AirPressureLow(AirLine air, AirBehaviour behaviour, AirPressureOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.AirPressureLow)
    {
        Judged = "The pressure is more than 10 % below the record for 2 s with the beam on. A wrong setting at the start is told within 12 s. A usual level that has come down by 3 % is told as low priority.",
        Triggers = ChannelSet.Of(Channel.AirPressure) | ChannelSet.RunChange,
        Weights =
        [
            new(Degree.Advice, Consequence.Scrap, TimeToRespond.Days, "still within the tolerance of the job"),
            new(Degree.Plain, Consequence.Scrap, TimeToRespond.Minutes, "the cut under way may not go through"),
        ],
        ExplainedBy =
        [
            new(Conditions.AirPressureLost, true, "no air is low air", 1),
        ],
        Checks =
        [
            "Pause the job if the cut no longer goes through; stay with the machine",
            "Beam and motors off: look along the air hose to the head for a kink, a crushed place or a loose fitting; let the pressure off before you mend it",
            "With the air flowing, compare the regulator's gauge with the job's recorded pressure, and turn the regulator slowly until it is right",
            "See, without touching, that the compressor or air pump runs and holds its tank pressure; it can start by itself",
            "Let the pressure off, then drain the water trap and look at its filter",
        ],
    };

    private const int Advice = 0;
    private const int Alarm = 1;

    /// <summary>A trough goes so much deeper than half the sawtooth's usual height, as it is not the same each time.</summary>
    private const double DeepestTrough = 1.1;

    /// <summary>A trough is never waited out for longer, in seconds.</summary>
    private const double LongestTroughSeconds = 180;

    private double _deficit;
    private Instant? _lowSince;
    private Instant? _goodSince;
    private Instant? _belowSince;
    private bool _breach;
    private bool _advised;
    private int _run;

    public override Verdict Update(Reading reading)
    {
        Follow(reading);
        return ToVerdict(reading);
    }

    private void Follow(Reading reading)
    {
        if (reading.Run is not { } run || air.Recorded is not { } recorded)
        {
            // Without a pressure sensor to believe, a standing alarm stands; without a run it has no object.
            if (IsBlind(reading))
                return;
            StartAnew();
            return;
        }

        if (run.Number != _run)
        {
            StartAnew();
            _run = run.Number;
        }

        if (!reading.IsFresh(CanonicalIndex.AirPressure) || !air.IsJudged)
            return;

        var at = reading.TimeOf(CanonicalIndex.AirPressure);
        var pressure = air.Median;
        if (!_breach)
        {
            var step = (air.Limit - pressure) / recorded * 100 * air.StepSeconds;
            _deficit = Math.Max(0, _deficit + step);
            if (pressure >= air.Limit && _deficit == 0)
                _lowSince = null;
            else
                _lowSince ??= at;
            if (pressure >= air.Limit)
                _belowSince = null;
            else
                _belowSince ??= at;
            var longEnough = _lowSince is { } since && at.SecondsSince(since) >= options.OnDelaySeconds;
            _breach = longEnough && _deficit >= options.LeastDeficitPercentSeconds && pressure < air.Limit
                && reading[CanonicalIndex.AirPressure] < air.Limit && !IsTrough(pressure, at);
            if (_breach)
            {
                _goodSince = null;
                behaviour.Distrust(behaviour.Fall.Onset);
            }
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
    }

    private Verdict ToVerdict(Reading reading)
    {
        if ((reading.Run is null || air.Recorded is null) && IsBlind(reading))
            return default;
        if (_breach)
            return new(Judgement.Breach, reading[CanonicalIndex.AirPressure], air.Limit, Alarm);
        if (behaviour.Pressure.Direction < 0)
            return new(Judgement.Breach, behaviour.PressureThen, behaviour.UsualThen, Advice);
        if (air.Recorded is not null)
            return new(Judgement.Normal, reading[CanonicalIndex.AirPressure], air.Limit);
        return new(_advised ? Judgement.Normal : Judgement.Irrelevant);
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
        {
            var why = _advised ? "air pressure is back at its usual level"
                : reading.Run is null ? "the run is over"
                : verdict.Judgement == Judgement.Irrelevant ? "no pressure is recorded for the job"
                : "air pressure is back at the job's recorded value";
            return new Finding(PriorityOf(_advised ? Degree.Advice : Degree.Plain), Channel.AirPressure.Unit, why, [], []);
        }

        _advised = verdict.Grade == Advice;
        return _advised ? Creep(reading) : Low(reading, verdict.Value!.Value);
    }

    public override IReadOnlyList<string> Lacks(Reading reading) => reading.Lack(Channel.AirPressure) is { } lack ? [lack]
        : reading.Run is { } run && run.Record?.AirPressure is null ? [run.Job is null ? "the job is unknown" : $"no pressure is recorded for {run.Job}"]
        : [];

    public override void Visit(StateVisitor state)
    {
        state.Walk(ref _deficit);
        state.Walk(ref _lowSince);
        state.Walk(ref _goodSince);
        state.Walk(ref _belowSince);
        state.Walk(ref _breach);
        state.Walk(ref _advised);
        state.Walk(ref _run);
    }

    /// <summary>Seen so far only what the trough of the compressor's known sawtooth would be, if its middle is still within the tolerance.</summary>
    private bool IsTrough(double pressure, Instant at) =>
        behaviour.Swing.IsKnown && pressure >= air.Limit - (DeepestTrough * behaviour.Swing.Amplitude)
        && at.SecondsSince(_belowSince ?? at) < Math.Min(behaviour.Swing.HalfPeriodSeconds, LongestTroughSeconds);

    private static bool IsBlind(Reading reading) =>
        reading.Run is not null && reading.Run.Record?.AirPressure is not null && !reading.Has(CanonicalIndex.AirPressure);

    private Finding Low(Reading reading, double pressure)
    {
        var recorded = air.Recorded ?? 0;
        var fall = 1 - (pressure / recorded);
        var seen = behaviour.Signature(reading, pressure);
        var causes = AirCauses.Rank(seen);
        List<Evidence> evidence =
        [
            new("recorded", recorded), new("fall_percent", Math.Round(fall * 100, 1)),
            new("low_since", (_lowSince ?? reading.At).ToString()),
        ];
        if (behaviour.Fall.FallSeconds is { } seconds)
            evidence.Add(new Evidence("fall_seconds", Math.Round(seconds, 1)));
        AirEvidence.Add(evidence, causes, seen);
        return new Finding(
            PriorityOf(Degree.Plain),
            Channel.AirPressure.Unit,
            string.Create(CultureInfo.InvariantCulture, $"air pressure {pressure:0.0} kPa is {fall * 100:0} % below the {recorded:0.0} kPa recorded for {reading.Run?.Job}; {AirCauses.InWords(causes)}"),
            evidence,
            Checks);
    }

    private Finding Creep(Reading reading)
    {
        var trend = behaviour.Pressure;
        var seen = behaviour.TrendSignature(reading);
        var causes = AirCauses.Rank(seen);
        List<Evidence> evidence =
        [
            new("usual_pressure", Math.Round(behaviour.UsualThen, 1)), new("fall_percent", Math.Round(-trend.Shift, 1)), new("since", trend.Since.ToString()),
        ];
        AirEvidence.Add(evidence, causes, seen);
        return new Finding(
            PriorityOf(Degree.Advice),
            Channel.AirPressure.Unit,
            string.Create(CultureInfo.InvariantCulture, $"air pressure at {trend.Job} has come down by {-trend.Shift:0.0} % of its record, from the usual {behaviour.UsualThen:0.0} kPa toward the limit; {AirCauses.InWords(causes)}"),
            evidence,
            Checks);
    }

    private void StartAnew()
    {
        _deficit = 0;
        _lowSince = null;
        _goodSince = null;
        _belowSince = null;
        _breach = false;
    }
}
