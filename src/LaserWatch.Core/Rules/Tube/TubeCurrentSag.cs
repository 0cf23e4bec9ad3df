using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using LaserWatch.Life;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;
using LaserWatch.Trends;
using LaserWatch.Upkeep;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string TubeCurrentSag = "tube-current-sag";
}

/// <summary>Tube current at fixed power has fallen by a material part of its baseline.</summary>
/// <remarks>
/// Three looks, from the quickest to the surest. A fall of twice the limit is believed after three blocks. The median of the last quarter of an
/// hour of steady beam must be below the limit by its own standard error and by what this machine strays in good health. And the level that
/// the whole course gives (<see cref="TubeCourse"/>: no change, step or ramp, averaged by their weights) must be below the limit by its standard
/// error, and clear of the baseline by a threshold computed from the wanted time between false alarms. Each power is judged by itself too: a
/// supply at its limit falls at the top first. Falling current is not proof of an aged tube, and steady current none of a good one: a supply that
/// still regulates holds the current while the light fades.
/// </remarks>
internal sealed class TubeCurrentSag(TubeHealth health, ServiceLedger ledger, TubeCurrentOptions options, TubeLifeOptions life) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.TubeCurrentSag)
    {
        Judged = "At fixed power the current is 5 % below the tube's baseline. From 15 % on the priority is high.",
        Triggers = ChannelSet.Of(Channel.TubeCurrent, Channel.Power, Channel.Lasing) | ChannelSet.Tick,
        Moment = RuleMoment.InOrder,
        Weights =
        [
            new(Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "thick cuts fail first"),
            new(Degree.Severe, Consequence.Scrap, TimeToRespond.Minutes, "most cuts fail"),
        ],
        ExplainedBy =
        [
            new(Conditions.TubeCurrentStep, true, "the step is the fall"),
            new(Conditions.CoolantHot, true, "a warm tube takes less current at the same command", 20),
        ],
        Checks =
        [
            "Make a test cut of a proven job, with the extraction on, and stay with the machine: current alone cannot tell lost light from a supply at its limit",
            "Check that the commanded power really is the job's",
            "Read the coolant temperature; have a qualified person measure the mains voltage under load",
            "With the beam off, read the current sensor's zero; have a qualified person check its wiring in the low-voltage return",
            "Compare the stored currents at low and at high power: a fall only near the top points to a supply at its limit or an ageing tube",
            "Have a qualified person test the supply; the high-voltage side can kill, even switched off",
        ],
    };

    private const int QuickBlocks = 3;
    private const double Recovered = 0.01;
    private const double LeastStraying = 0.006;

    private long _seen;
    private bool _breach;
    private bool _byCourse;
    private int _grade;
    private double _ratio;
    private double _error;
    private double _power;
    private double _baseline;

    public override Verdict Update(Reading reading)
    {
        if (health.All.Count == 0)
            return default;
        if (health.BlocksEver != _seen)
        {
            _seen = health.BlocksEver;
            Judge();
        }

        return new Verdict(
            _breach ? Judgement.Breach : Judgement.Normal, Math.Round(_baseline * _ratio, 2), Math.Round(_baseline * (1 - options.Sag), 2),
            _grade);
    }

    /// <summary>A new tube: what was judged before is another tube's.</summary>
    public override void Reset() => (_breach, _byCourse, _grade) = (false, false, 0);

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        var severe = verdict.Grade > 0;
        var priority = PriorityOf(severe ? Degree.Severe : Degree.Plain);
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(priority, "mA", "tube current is back near its baseline", [], []);
        // Where the step was seen to come, the course, which knows stints only, need not know it yet.
        var change = health.Course.Present() is { Kind: ChangeKind.Step } course ? course : health.StepSeen ?? health.Course.Present();
        var causes = TubeCauses.Rank(TubeWords.Symptoms(health, ledger, life, 1 - _ratio, change));
        return new Finding(
            priority, "mA",
            string.Create(CultureInfo.InvariantCulture, $"tube current at {_power:0} % power is {(1 - _ratio) * 100:0.0} % below its baseline of {_baseline:0.0} mA; likeliest {causes[0].Name} ({causes[0].Weight:0.00}), but current alone cannot tell tube from supply: make a test cut"),
            [
                new Evidence("ratio", Math.Round(_ratio, 4)), new Evidence("ratio_standard_error", Math.Round(_error, 4)),
                new Evidence("power", _power), new Evidence("baseline", Math.Round(_baseline, 2)),
                new Evidence("powers_fallen", string.Join(", ", health.Powers.Where(w => w.Sagging).Select(w => $"{w.Power:0} %"))),
                new Evidence("baseline_beam_hours", Math.Round(health.Baseline.LearnedHours(health.BeamSeconds), 1)),
                .. TubeWords.OfChange(change),
                .. TubeWords.OfCauses(causes),
            ],
            Checks);
    }

    public override IReadOnlyList<string> Lacks(Reading reading) => TubeLacks.Of(reading, health);

    public override void Visit(StateVisitor state)
    {
        state.Walk(ref _seen);
        state.Walk(ref _breach);
        state.Walk(ref _byCourse);
        state.Walk(ref _grade);
        state.Walk(ref _ratio);
        state.Walk(ref _error);
        state.Walk(ref _power);
        state.Walk(ref _baseline);
    }

    private void Judge()
    {
        var one = health.AtLastPower!;
        var all = health.All;
        // What the whole course says stays until the course takes it back: one good hour does not unsay it.
        _byCourse = SagsByCourse() || (_byCourse && health.Course.Change.Now <= 1 - options.Sag + Recovered);
        var byBlocks = Sags(all);
        all.Sagging = _byCourse || byBlocks;
        one.Sagging = Sags(one);
        var worst = one.Sagging || !all.Sagging ? one : all;
        if (!all.Sagging && !one.Sagging && _breach && health.Powers.Any(w => w.Sagging))
            return; // another power holds the alarm: what was said of it stands
        var course = health.Course.Change;
        if (_byCourse && !one.Sagging && !byBlocks)
            (_ratio, _error, _power, _baseline) = (course.Now, course.NowError, health.LastPower, health.LastBaseline);
        else if ((QuickFall(worst) ?? worst.Recent(RatioWindow.Size, QuickBlocks)) is { } present)
            (_ratio, _error, _power, _baseline) = (present.Ratio, present.Error, health.LastPower, health.LastBaseline);
        _breach = all.Sagging || health.Powers.Any(w => w.Sagging);
        _grade = !_breach ? 0 : _ratio < 1 - options.SevereSag ? 1 : _grade;
    }

    private bool Sags(RatioWindow window)
    {
        var limit = 1 - options.Sag;
        if (QuickFall(window) is not null)
            return true;
        if (window.Recent(RatioWindow.Size, RatioWindow.Size / 2) is not { } present)
            return window.Sagging;
        // One power's own straying, where it is known: that of all powers together grows when only some of them fall.
        var wander = window.Power == 0 ? health.Wander : Math.Min(health.Wander, Math.Max(window.Strays, LeastStraying));
        // Twice: a quarter of an hour may lie in one of the machine's swings; what is slow and small is for the course to tell.
        var strays = Math.Sqrt((present.Error * present.Error) + (4 * wander * wander));
        // It goes only when the window and its newest blocks agree: after a quick fall the window still holds what was before.
        var back = Math.Min(present.Ratio, window.Recent(QuickBlocks, QuickBlocks)!.Value.Ratio) > limit + Recovered + wander;
        return present.Ratio + strays < limit || (window.Sagging && !back);
    }

    private bool SagsByCourse()
    {
        var change = health.Course.Change;
        if (change.Kind == ChangeKind.Unknown)
            return false;
        var baseline = health.All.BaselineError;
        var error = Math.Sqrt((change.NowError * change.NowError) + (baseline * baseline));
        var sigmas = health.Course.Sigmas;
        if (change.Now + error < 1 - options.Sag && 1 - change.Now > sigmas * error)
            return true;
        // The course before the change is many days long, and knows the good level better than the baseline's first hours.
        return change.Kind is ChangeKind.Step or ChangeKind.Ramp && Math.Abs(change.Before - 1) < 3 * baseline
            && change.Fall - change.FallError > options.Sag * change.Before && change.Fall > sigmas * change.FallError;
    }

    private (double Ratio, double Error)? QuickFall(RatioWindow window) =>
        window.Recent(QuickBlocks, QuickBlocks) is { } latest && window.Highest(QuickBlocks) < 1 - (2 * options.Sag) - (2 * (latest.Error + health.Wander))
            ? latest
            : null;
}
