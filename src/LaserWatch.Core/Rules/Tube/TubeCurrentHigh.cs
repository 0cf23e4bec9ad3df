using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>Tube current is above the tube's rated working current.</summary>
internal sealed class TubeCurrentHigh(TubeCurrentOptions options) : IDetector
{
    private DelayedSwitch _switch;

    public string Condition => Conditions.TubeCurrentHigh;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.TubeCurrent);

    public Verdict Update(Reading reading)
    {
        Follow(reading);
        return Say(reading);
    }

    /// <summary>Takes the reading; true where the verdict is a breach.</summary>
    public bool Follow(Reading reading)
    {
        if (options.RatedCurrentMilliamps is not { } rated || !reading.Has(CanonicalIndex.TubeCurrent) || !reading.IsFresh(CanonicalIndex.TubeCurrent))
            return false;
        var current = reading[CanonicalIndex.TubeCurrent];
        return _switch.Update(current > rated, current < rated * 0.98, reading.TimeOf(CanonicalIndex.TubeCurrent), options.HighOnDelaySeconds, 30);
    }

    /// <summary>The verdict on the reading that was taken last.</summary>
    public Verdict Say(Reading reading)
    {
        if (options.RatedCurrentMilliamps is not { } rated || !reading.Has(CanonicalIndex.TubeCurrent) || !reading.IsFresh(CanonicalIndex.TubeCurrent))
            return default;
        return new Verdict(_switch.IsOn ? Judgement.Breach : Judgement.Normal, reading[CanonicalIndex.TubeCurrent], rated);
    }

    public Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            Priorities.Of(Condition, Degree.Plain), "mA",
            string.Create(CultureInfo.InvariantCulture, $"tube current {verdict.Value:0.0} mA is above the rated {verdict.Limit:0.0} mA"),
            reading.Has(CanonicalIndex.Power) ? [new Evidence("power", reading[CanonicalIndex.Power])] : [], Advice.For(Condition))
        : new Finding(Priorities.Of(Condition, Degree.Plain), "mA", "tube current is within its rating", [], []);

    public IReadOnlyList<string> Lacks(Reading reading) => reading.Lack(Channel.TubeCurrent) is { } lack ? [lack]
        : options.RatedCurrentMilliamps is null ? ["the tube's rated current is not configured"]
        : [];

    public void Visit(StateVisitor state) => _switch.Visit(state);
}
