using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string AirPathRestricted = "air-path-restricted";
}

/// <summary>The air finds less way out: pressure above the recorded value, or flow below what the usual nozzle lets through at that pressure.</summary>
/// <remarks>
/// By the ISO 6358 flow formula a nozzle half blocked raises the pressure before it by some 5 % while its conductance halves, so flow is
/// the better witness where it is fitted, and is judged as conductance: a lower pressure alone makes less flow, too. A rise of the job's own usual
/// level by half of that is advice of low priority, since a hand at the regulator does the same.
/// </remarks>
internal sealed class AirPathRestricted(AirLine air, AirBehaviour behaviour, AirPressureOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.AirPathRestricted)
    {
        Judged = "The pressure is 10 % (and 6 kPa) above the record for 15 s, or the flow 25 % below the usual one at that pressure (ISO 6358). A slow change is told as low priority.",
        Triggers = ChannelSet.Of(Channel.AirPressure, Channel.AirFlow) | ChannelSet.RunChange,
        Weights =
        [
            new(Degree.Advice, Consequence.Scrap, TimeToRespond.Days, "still cuts, or only set too high"),
            new(Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "less air at the cut; its quality goes first"),
        ],
        Checks =
        [
            "After the job, with the beam locked out, the interlock open, the head parked and cool, and the extraction run on: look into the nozzle for spatter and clean it",
            "Beam and motors off: look for a kink between the pressure sensor and the head",
            "Compare the regulator's gauge with the job's recorded pressure",
            "Machine off and lens cold: check the lens for damage; a blocked nozzle lets smoke reach it",
        ],
    };

    private const int Advice = 0;
    private const int Alarm = 1;
    private const double SmoothSeconds = 5;
    private const double LeastDelaySeconds = 4;

    /// <summary>The nozzle's conductance is as usual within this fraction: the pressure was set, not dammed up.</summary>
    private const double SameConductance = 0.08;

    private Fading _fading = new(SmoothSeconds);
    private double? _pressure;
    private double? _flow;
    private Instant _pressureAt;
    private Instant _flowAt;
    private Instant? _badSince;
    private Instant? _goodSince;
    private bool _breach;
    private bool _advised;
    private bool _byFlow;
    private bool _bySetting;
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
            if (IsBlind(reading))
                return;
            Begin(0);
            return;
        }

        if (run.Number != _run)
            Begin(run.Number);

        if (!behaviour.IsSteady)
        {
            if (!air.IsCutting)
                _badSince = null;
            return;
        }

        if (reading.IsFresh(CanonicalIndex.AirPressure))
            _pressure = Smooth(_pressure, reading[CanonicalIndex.AirPressure], reading.TimeOf(CanonicalIndex.AirPressure), ref _pressureAt);
        if (reading.IsFresh(CanonicalIndex.AirFlow) && reading.Has(CanonicalIndex.AirFlow))
            _flow = Smooth(_flow, reading[CanonicalIndex.AirFlow], reading.TimeOf(CanonicalIndex.AirFlow), ref _flowAt);

        if (_pressure is not { } pressure)
            return;
        // With hardly any pressure left, the small errors of both sensors are all that is measured.
        var tooLittle = _flow is { } flow && ExpectedFlow is { } expected && flow < expected * (1 - options.FlowTolerance) && pressure >= 0.5 * air.Limit;
        Judge(reading.At, pressure > HighLimit(recorded), tooLittle, pressure - HighLimit(recorded));
    }

    private Verdict ToVerdict(Reading reading)
    {
        var recorded = reading.Run is null ? null : air.Recorded;
        return recorded is null && IsBlind(reading) ? default : ToVerdict(recorded ?? 0);
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
        {
            var unit = _byFlow ? Channel.AirFlow.Unit : Channel.AirPressure.Unit;
            var why = verdict.Judgement != Judgement.Irrelevant || _advised ? "the air path is free again"
                : reading.Run is null ? "the run is over" : "no pressure is recorded for the job";
            return new Finding(PriorityOf(_advised ? Degree.Advice : Degree.Plain), unit, why, [], []);
        }

        _advised = verdict.Grade == Advice;
        return _breach ? Restricted(reading, verdict) : Rise(reading);
    }

    public override IReadOnlyList<string> Lacks(Reading reading)
    {
        List<string> lacks = [];
        if (reading.Lack(Channel.AirPressure) is { } pressure)
            lacks.Add(pressure);
        if (reading.Lack(Channel.AirFlow) is { } flow)
            lacks.Add(flow + " (a blocked nozzle shows in flow far more than in pressure)");
        return lacks;
    }

    public override void Visit(StateVisitor state)
    {
        state.Walk(ref _pressure);
        state.Walk(ref _flow);
        state.Walk(ref _pressureAt);
        state.Walk(ref _flowAt);
        state.Walk(ref _badSince);
        state.Walk(ref _goodSince);
        state.Walk(ref _breach);
        state.Walk(ref _advised);
        state.Walk(ref _byFlow);
        state.Walk(ref _bySetting);
        state.Walk(ref _run);
    }

    /// <summary>What the usual nozzle would let through at the present pressure, L/min.</summary>
    private double? ExpectedFlow => behaviour.UsualConductance is { } usual && _pressure is { } pressure
        ? SonicConductance.NozzleFlow(usual, pressure) : null;

    private double HighLimit(double recorded) => recorded + Math.Max(recorded * options.HighTolerance, options.LeastRiseKilopascals);

    private void Judge(Instant at, bool tooHigh, bool tooLittle, double above)
    {
        if (!tooHigh && !tooLittle)
        {
            if (_breach && _byFlow && (_flow is null || ExpectedFlow is null))
                return;
            _badSince = null;
            _goodSince ??= at;
            if (_breach && at.SecondsSince(_goodSince.Value) >= options.OffDelaySeconds)
                _breach = false;
            return;
        }

        _goodSince = null;
        _badSince ??= at;
        var delay = options.RestrictedOnDelaySeconds;
        // Half the flow gone says in half the time what a quarter says.
        if (tooLittle)
            delay = Math.Max(Math.Min(delay, LeastDelaySeconds), delay * options.FlowTolerance / (1 - (_flow!.Value / ExpectedFlow!.Value)));
        // The crest of a compressor's sawtooth goes by.
        if (!tooLittle && behaviour.Swing.IsKnown && above <= 1.1 * behaviour.Swing.Amplitude)
            delay = Math.Max(delay, Math.Min(behaviour.Swing.HalfPeriodSeconds, 180));
        if (_breach || at.SecondsSince(_badSince.Value) < delay)
            return;
        _breach = true;
        _byFlow = tooLittle;
        _bySetting = !tooLittle && _flow is { } flow && ExpectedFlow is { } expected && flow > expected * (1 - SameConductance);
        behaviour.Distrust(behaviour.RiseOnset);
    }

    private Finding Restricted(Reading reading, Verdict verdict)
    {
        var reference = behaviour.Reference;
        var seen = new AirSignature(
            reference > 0 && _pressure is { } now ? now / reference : 1,
            _flow is { } through && ExpectedFlow is { } expected && expected > 0 ? Math.Max(through, 0) / expected : null,
            behaviour.RiseOnset, 0, reading.Knows(CanonicalIndex.AirFlow));
        var causes = AirCauses.Rank(seen);
        var message = _byFlow
            ? string.Create(CultureInfo.InvariantCulture, $"air flow {verdict.Value:0.0} L/min is below the usual {ExpectedFlow:0.0} L/min of {reading.Run?.Job} at {_pressure:0.0} kPa")
            : string.Create(CultureInfo.InvariantCulture, $"air pressure {verdict.Value:0.0} kPa is above the {air.Recorded:0.0} kPa recorded for {reading.Run?.Job}");
        List<Evidence> evidence = [new Evidence("recorded_pressure", air.Recorded ?? 0), new Evidence("pressure", Math.Round(_pressure ?? 0, 2))];
        if (_flow is { } flow)
            evidence.Add(new Evidence("flow", Math.Round(flow, 2)));
        if (ExpectedFlow is { } usual)
            evidence.Add(new Evidence("usual_flow", Math.Round(usual, 2)));
        AirEvidence.Add(evidence, causes, seen);
        return new Finding(
            PriorityOf(_bySetting ? Degree.Advice : Degree.Plain), _byFlow ? Channel.AirFlow.Unit : Channel.AirPressure.Unit,
            $"{message}; {AirCauses.InWords(causes)}", evidence, Checks);
    }

    private Finding Rise(Reading reading)
    {
        var seen = behaviour.TrendSignature(reading);
        var causes = AirCauses.Rank(seen);
        List<Evidence> evidence = [];
        string message;
        if (behaviour.Conductance.Direction < 0)
        {
            var fall = 100 * (1 - Math.Exp(behaviour.Conductance.Shift));
            evidence.Add(new Evidence("conductance_fall_percent", Math.Round(fall, 1)));
            evidence.Add(new Evidence("since", behaviour.Conductance.Since.ToString()));
            message = string.Create(CultureInfo.InvariantCulture, $"the air path at {behaviour.Conductance.Job} lets {fall:0} % less through than usual at equal pressure");
        }
        else
        {
            evidence.Add(new Evidence("usual_pressure", Math.Round(behaviour.UsualThen, 1)));
            evidence.Add(new Evidence("rise_percent", Math.Round(behaviour.Pressure.Shift, 1)));
            evidence.Add(new Evidence("since", behaviour.Pressure.Since.ToString()));
            message = string.Create(CultureInfo.InvariantCulture, $"air pressure at {behaviour.Pressure.Job} is up by {behaviour.Pressure.Shift:0.0} % of its record from the usual {behaviour.UsualThen:0.0} kPa");
        }

        AirEvidence.Add(evidence, causes, seen);
        return new Finding(
            PriorityOf(Degree.Advice), behaviour.Conductance.Direction < 0 ? "dm³/(s·bar)" : Channel.AirPressure.Unit, $"{message}; {AirCauses.InWords(causes)}", evidence,
            Checks);
    }

    private static bool IsBlind(Reading reading) =>
        reading.Run is not null && reading.Run.Record?.AirPressure is not null && !reading.Has(CanonicalIndex.AirPressure);

    private void Begin(int run)
    {
        _run = run;
        _pressure = null;
        _flow = null;
        _badSince = null;
        _goodSince = null;
        // What blocks the air path is there in the next run, too, until its flow says otherwise.
        _breach &= _byFlow;
    }

    private Verdict ToVerdict(double recorded)
    {
        if (_breach)
        {
            return _byFlow
                ? new Verdict(Judgement.Breach, _flow, ExpectedFlow * (1 - options.FlowTolerance), Alarm)
                : new Verdict(Judgement.Breach, _pressure, HighLimit(recorded), _bySetting ? Advice : Alarm);
        }

        if (behaviour.Conductance.Direction < 0)
        {
            var usual = Math.Exp(behaviour.Conductance.Usual);
            return new Verdict(Judgement.Breach, usual * Math.Exp(behaviour.Conductance.Shift), usual, Advice);
        }

        // Where the conductance is known to be as usual, a higher pressure is a setting and no restriction.
        if (behaviour.Pressure.Direction > 0 && !behaviour.ConductanceIsUsual)
            return new Verdict(Judgement.Breach, behaviour.PressureThen, behaviour.UsualThen, Advice);
        if (recorded > 0)
            return new Verdict(Judgement.Normal, _pressure, HighLimit(recorded));
        return new Verdict(_advised ? Judgement.Normal : Judgement.Irrelevant);
    }

    private double Smooth(double? before, double value, Instant at, ref Instant lastAt)
    {
        var seconds = at.SecondsSince(lastAt);
        lastAt = at;
        if (before is null || seconds > 60)
            return value;
        return before.Value + (_fading.Weight(seconds) * (value - before.Value));
    }
}
