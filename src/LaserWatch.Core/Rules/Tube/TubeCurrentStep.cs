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
    public const string TubeCurrentStep = "tube-current-step";
}

/// <summary>Tube current fell at once, not slowly: supply, command, wiring, mains or sensor rather than age.</summary>
/// <remarks>
/// The latest four blocks of steady beam (three, where the fall is gross) against the twelve before: the fall must be material, five robust
/// standard errors large, beyond what blocks here stray in good health, and clean: no block of the latest reaches the middle of the earlier ones.
/// Each power is judged against itself, so that a change of the mix of jobs is no change.
/// Where the blocks span a break, what the machine strays in good health counts as error too. A step too small for that look, or one that came
/// overnight, is found by comparing models over the whole course (<see cref="TubeCourse"/>), within days.
/// </remarks>
internal sealed class TubeCurrentStep(TubeHealth health, ServiceLedger ledger, TubeCurrentOptions options, TubeLifeOptions life) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.TubeCurrentStep)
    {
        Judged = "The current fell at once: the latest minutes of beam against those before, each power against itself. Small steps are told within days.",
        Triggers = ChannelSet.Of(Channel.TubeCurrent, Channel.Power, Channel.Lasing) | ChannelSet.Tick,
        Moment = RuleMoment.InOrder,
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "something broke: tube, supply or high-voltage path"),
        ],
        Checks =
        [
            "See in the service log what was changed at that time: power settings, wiring, parts",
            "With the beam off, read the current sensor's zero; have a qualified person check its connector",
            "Make a test cut of a proven job, with the extraction on, stay with the machine, and log it: current alone cannot tell lost light from a supply at its limit",
            "Have a qualified person check the command to the supply and its connector",
            "Have a qualified person measure the mains voltage under load",
            "Have a qualified person test the supply; the high-voltage side can kill, even switched off",
        ],
    };

    private const int Quick = 3;
    private const int After = 4;
    private const int Before = 12;
    private const int LeastBefore = 6;
    private const double Sigmas = 5;
    private const double StraysBeyond = 4.5;
    private const double LeastWeight = 0.95;
    private const double HalfAnHour = 1.0 / 48;
    private static readonly TimeSpan Together = TimeSpan.FromMinutes(60);

    private long _seen;
    private bool _breach;
    private double _before;
    private double _after;
    private double _error;
    private Instant _at;
    private double _power;
    private double _toldDays;
    private Course _course;

    public override Verdict Update(Reading reading)
    {
        if (health.All.Count < After + LeastBefore && !_breach)
            return default;
        if (health.BlocksEver != _seen)
        {
            _seen = health.BlocksEver;
            Judge();
        }

        return new Verdict(
            _breach ? Judgement.Breach : Judgement.Normal, Math.Round(health.LastBaseline * _after, 2),
            Math.Round(health.LastBaseline * _before * (1 - options.Step), 2));
    }

    /// <summary>A new tube: what was judged before is another tube's.</summary>
    public override void Reset() => _breach = false;

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(PriorityOf(Degree.Plain), "mA", "tube current is back where it was before the step", [], []);
        var change = health.Course.Present() is { Kind: ChangeKind.Step } course ? course : health.StepSeen ?? default;
        var causes = TubeCauses.Rank(TubeWords.Symptoms(health, ledger, life, 1 - (_after / _before), change));
        return new Finding(
            PriorityOf(Degree.Plain), "mA",
            string.Create(CultureInfo.InvariantCulture, $"tube current fell at once by {(1 - (_after / _before)) * 100:0.0} % at {health.LastPower:0} % power, about {_at}; likeliest {causes[0].Name} ({causes[0].Weight:0.00}), but current alone cannot tell tube from supply: make a test cut"),
            [
                new Evidence("ratio_before", Math.Round(_before, 4)), new Evidence("ratio_after", Math.Round(_after, 4)),
                new Evidence("fall_standard_error", Math.Round(_error, 4)), new Evidence("began", _at.ToString()),
                new Evidence("power", health.LastPower), new Evidence("baseline", Math.Round(health.LastBaseline, 2)),
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
        state.Walk(ref _before);
        state.Walk(ref _after);
        state.Walk(ref _error);
        state.Walk(ref _at);
        state.Walk(ref _power);
        state.Walk(ref _toldDays);
        state.Walk(ref _course);
    }

    private void Judge()
    {
        if (_breach && _course != Course.None)
        {
            // What days of stints said, only days of stints can take back.
            _breach = (_course == Course.Top ? health.Top : health.Below).Change.Now <= _before * (1 - (options.Step / 2));
            return;
        }

        if (_breach)
        {
            var window = health.AtLastPower!;
            if (window.Power != _power || window.Recent(Before, LeastBefore) is not { } recent || window.Recent(After, After) is not { } latest)
                return;
            // Back only when both agree: just after the fall most of the window still lies before it.
            _breach = Math.Min(recent.Ratio, latest.Ratio) <= _before * (1 - (options.Step / 2));
            if (!_breach)
                health.StepSeen = null;
            return;
        }

        // A gross fall is believed a block earlier.
        _breach = Fell(health.AtLastPower!, Quick, 2) || Fell(health.AtLastPower!, After, 1) || FellByCourse(health.Top) || FellByCourse(health.Below);
    }

    private bool FellByCourse(TubeCourse course)
    {
        var change = course.Change;
        var fell = change.Kind == ChangeKind.Step && change.Step >= LeastWeight && change.Fall >= options.Step
            && change.Fall > course.Sigmas * change.FallError && change.BeganDays > _toldDays && course.StandsAtLikePowers(change);
        if (fell)
        {
            (_before, _after, _error, _power) = (change.Before, change.Now, change.FallError, 0);
            _course = course == health.Top ? Course.Top : Course.Below;
            (_at, _toldDays) = (HealthSeries.FromDays(change.BeganDays), change.BeganToDays);
        }

        return fell;
    }

    private bool Fell(RatioWindow window, int after, double times)
    {
        var count = Math.Min(Before, window.Count - after);
        while (count >= LeastBefore && window.Time(after - 1) - window.Time(after + count - 1) > health.LongestBreak)
            count--;
        if (count < LeastBefore)
            return false;
        var latest = window.Median(0, after);
        var earlier = window.Median(after, count);
        // A tube that is known to fall slowly falls on over every break: a step must stand out from that.
        var step = times * options.Step * (health.IsFallingSlowly ? 1.5 : 1);
        if (1 - (latest / earlier) < step)
            return false;
        var deviation = window.Deviation(after, count, earlier);
        // A quantised, quiet sensor may show no spread at all; nothing measured here is surer than half a percent.
        var error = Math.Max(0.005, deviation) * Math.Sqrt(1.57 * ((1.0 / after) + (1.0 / count)));
        // Over a break nobody saw whether it came at once: the machine's straying could have done it.
        if (window.Time(after - 1) - window.Time(after + count - 1) > Together)
            error = Math.Sqrt((error * error) + (2 * health.Wander * health.Wander));
        if (earlier - latest < Math.Max(Sigmas * error, StraysBeyond * window.Strays)
            || window.Highest(after) > earlier * (1 - (step / 2)))
            return false;

        _course = Course.None;
        (_before, _after, _error, _at, _power) = (earlier, latest, error, window.Time(after - 1), window.Power);
        _toldDays = HealthSeries.ToDays(window.Time(0));
        var began = HealthSeries.ToDays(_at);
        health.StepSeen = new ChangeFinding(ChangeKind.Step, 0, 1, 0, began, began - HalfAnHour, began, _before, _after, _error, _before - _after, _error, 0);
        return true;
    }

    /// <summary>Which course told the step; none where the blocks themselves did.</summary>
    private enum Course
    {
        None,
        Top,
        Below,
    }
}
