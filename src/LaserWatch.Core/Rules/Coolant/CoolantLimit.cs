using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>The coolant is outside its working limits: entering the tube where that is measured, else leaving it.</summary>
internal sealed class CoolantLimit(CoolantOptions options, bool hot) : IDetector
{
    private DelayedSwitch _switch;

    public string Condition => hot ? Conditions.CoolantHot : Conditions.CoolantCold;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.CoolantIn, Channel.CoolantOut);

    private double LimitCelsius => hot ? options.HotCelsius : options.ColdCelsius;

    public Verdict Update(Reading reading)
    {
        Follow(reading);
        return Say(reading);
    }

    /// <summary>Takes the reading; true where the verdict is a breach.</summary>
    public bool Follow(Reading reading)
    {
        var channel = Measured(reading);
        if (channel < 0 || !reading.IsFresh(channel))
            return false;
        var celsius = reading[channel];
        var past = hot ? celsius - LimitCelsius : LimitCelsius - celsius;
        return _switch.Update(
            past > 0, past < -options.DeadbandKelvins, reading.TimeOf(channel), options.OnDelaySeconds, options.OffDelaySeconds);
    }

    /// <summary>The verdict on the reading that was taken last.</summary>
    public Verdict Say(Reading reading)
    {
        var channel = Measured(reading);
        return channel < 0 || !reading.IsFresh(channel) ? default
            : new Verdict(_switch.IsOn ? Judgement.Breach : Judgement.Normal, reading[channel], LimitCelsius);
    }

    public Finding Explain(Reading reading, Verdict verdict)
    {
        var priority = Priorities.Of(Condition, Degree.Plain);
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(priority, "°C", "the coolant is back in its range", [], []);
        List<Evidence> evidence = [new Evidence("channel", (Measured(reading) == CanonicalIndex.CoolantOut ? Channel.CoolantOut : Channel.CoolantIn).Name)];
        if (reading.Has(CanonicalIndex.AmbientTemperature))
            evidence.Add(new Evidence("ambient_temperature", reading[CanonicalIndex.AmbientTemperature]));
        return new Finding(
            priority, "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant at {verdict.Value:0.0} °C is {(hot ? "above" : "below")} the working limit of {LimitCelsius:0.0} °C"),
            evidence, Advice.For(Condition));
    }

    public IReadOnlyList<string> Lacks(Reading reading) =>
        Measured(reading) < 0 ? [reading.Lack(Channel.CoolantIn) ?? $"{Channel.CoolantIn.Name}: never heard"] : [];

    public void Visit(StateVisitor state) => _switch.Visit(state);

    // The index of the channel; −1 where neither can be used.
    private static int Measured(Reading reading) =>
        reading.Has(CanonicalIndex.CoolantIn) ? CanonicalIndex.CoolantIn
        : reading.Has(CanonicalIndex.CoolantOut) && !reading.Knows(CanonicalIndex.CoolantIn) ? CanonicalIndex.CoolantOut
        : -1;
}
