using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Tube;

/// <summary>Tube current at fixed power has fallen by a material part of its baseline.</summary>
/// <remarks>
/// The median of the last quarter of an hour of steady beam must be below the limit by its own standard error; a fall of twice the limit is believed after three blocks. Falling current is not proof of an aged tube, and steady
/// current none of a good one: a supply that still regulates holds the current while the light fades.
/// </remarks>
internal sealed class TubeCurrentSagDetector(TubeHealth health, TubeCurrentOptions options) : IDetector
{
    private const int QuickBlocks = 3;
    private const double Recovered = 0.01;

    private long _seen;
    private bool _breach;
    private int _grade;
    private double _ratio;
    private double _error;

    public string Condition => Conditions.TubeCurrentSag;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.TubeCurrent, Channel.Power, Channel.Lasing) | ChannelSet.Tick;

    public Verdict Update(Reading reading)
    {
        if (health.BlocksEver == 0 || health.Count == 0)
            return default;
        if (health.BlocksEver != _seen)
        {
            _seen = health.BlocksEver;
            Judge();
        }

        return new Verdict(
            _breach ? Judgement.Breach : Judgement.Normal, Math.Round(health.LastBaseline * _ratio, 2),
            Math.Round(health.LastBaseline * (1 - options.Sag), 2), _grade);
    }

    /// <summary>A new tube: what was judged before is another tube's.</summary>
    public void Reset() => (_breach, _grade) = (false, 0);

    public Finding Explain(Reading reading, Verdict verdict)
    {
        var severe = verdict.Grade > 0;
        var priority = severe ? AlarmPriority.High : AlarmPriority.Medium;
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(priority, "mA", "tube current is back near its baseline", [], []);
        return new Finding(
            priority, "mA",
            string.Create(CultureInfo.InvariantCulture, $"tube current at {health.LastPower:0} % power is {(1 - _ratio) * 100:0.0} % below its baseline of {health.LastBaseline:0.0} mA; current alone cannot tell tube from supply: make a test cut"),
            [
                new Evidence("ratio", Math.Round(_ratio, 4)), new Evidence("ratio_standard_error", Math.Round(_error, 4)),
                new Evidence("power", health.LastPower), new Evidence("baseline", Math.Round(health.LastBaseline, 2)),
                new Evidence("blocks", Math.Min(health.Count, TubeHealth.Window)),
                new Evidence("baseline_beam_hours", Math.Round(health.Baseline.LearnedHours(health.BeamSeconds), 1)),
            ],
            Advice.For(Condition));
    }

    public IReadOnlyList<string> Lacks(Reading reading) => TubeLacks.Of(reading, health);

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _seen);
        state.Walk(ref _breach);
        state.Walk(ref _grade);
        state.Walk(ref _ratio);
        state.Walk(ref _error);
    }

    private void Judge()
    {
        var limit = 1 - options.Sag;
        var window = health.Recent(TubeHealth.Window, TubeHealth.Window / 2);
        var quick = health.Recent(QuickBlocks, QuickBlocks);
        if (quick is { } latest && HighestOf(QuickBlocks) < 1 - (2 * options.Sag) - (2 * latest.Error))
            (_breach, _ratio, _error) = (true, latest.Ratio, latest.Error);
        else if (window is { } present)
        {
            (_ratio, _error) = (present.Ratio, present.Error);
            if (present.Ratio + present.Error < limit)
                _breach = true;
            else if (present.Ratio > limit + Recovered)
                _breach = false;
        }

        if (!_breach)
            _grade = 0;
        else if (_ratio < 1 - options.SevereSag)
            _grade = 1;
    }

    private double HighestOf(int blocks)
    {
        var highest = double.NegativeInfinity;
        for (var i = 0; i < blocks; i++)
            highest = Math.Max(highest, health.Ratio(i));
        return highest;
    }
}
