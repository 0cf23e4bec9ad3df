using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string TubeCurrentHigh = "tube-current-high";
}

/// <summary>Tube current is above the tube's rated working current.</summary>
internal sealed class TubeCurrentHigh(TubeCurrentOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.TubeCurrentHigh)
    {
        Judged = "The current is above the tube's rated current for 5 s.",
        Triggers = ChannelSet.Of(Channel.TubeCurrent),
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "wears the tube out far sooner"),
        ],
        Checks =
        [
            "Lower the power: too much current ages the tube quickly",
            "Compare the highest power set at the controller with the tube's rated current",
            "Check the current sensor's scale in the configuration, and its zero with the beam off",
        ],
    };

    private DelayedSwitch _switch;

    public override Verdict Update(Reading reading)
    {
        if (options.RatedCurrentMilliamps is not { } rated || !reading.Has(CanonicalIndex.TubeCurrent) || !reading.IsFresh(CanonicalIndex.TubeCurrent))
            return default;
        var current = reading[CanonicalIndex.TubeCurrent];
        var on = _switch.Update(current > rated, current < rated * 0.98, reading.TimeOf(CanonicalIndex.TubeCurrent), options.HighOnDelaySeconds, 30);
        return new Verdict(on ? Judgement.Breach : Judgement.Normal, current, rated);
    }

    public override Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            PriorityOf(Degree.Plain), "mA",
            string.Create(CultureInfo.InvariantCulture, $"tube current {verdict.Value:0.0} mA is above the rated {verdict.Limit:0.0} mA"),
            reading.Has(CanonicalIndex.Power) ? [new Evidence("power", reading[CanonicalIndex.Power])] : [], Checks)
        : new Finding(PriorityOf(Degree.Plain), "mA", "tube current is within its rating", [], []);

    public override IReadOnlyList<string> Lacks(Reading reading) => reading.Lack(Channel.TubeCurrent) is { } lack ? [lack]
        : options.RatedCurrentMilliamps is null ? ["the tube's rated current is not configured"]
        : [];

    public override void Visit(StateVisitor state) => _switch.Visit(state);
}
