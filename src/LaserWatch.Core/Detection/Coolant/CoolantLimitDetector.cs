using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Coolant;

/// <summary>The coolant is outside its working limits: entering the tube where that is measured, else leaving it.</summary>
internal sealed class CoolantLimitDetector(CoolantOptions options, bool hot) : IDetector
{
    private DelayedSwitch _switch;

    public string Condition => hot ? Conditions.CoolantHot : Conditions.CoolantCold;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.CoolantIn, Channel.CoolantOut);

    private double LimitCelsius => hot ? options.HotCelsius : options.ColdCelsius;

    public Verdict Update(Reading reading)
    {
        if (Measured(reading) is not { } channel || !reading.Fresh.Has(channel))
            return default;
        var celsius = reading[channel];
        var past = hot ? celsius - LimitCelsius : LimitCelsius - celsius;
        var on = _switch.Update(
            past > 0, past < -options.DeadbandKelvins, reading.TimeOf(channel), options.OnDelaySeconds, options.OffDelaySeconds);
        return new Verdict(on ? Judgement.Breach : Judgement.Normal, celsius, LimitCelsius);
    }

    public Finding Explain(Reading reading, Verdict verdict)
    {
        var priority = Priorities.Of(Condition, Degree.Plain);
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(priority, "°C", "the coolant is back in its range", [], []);
        List<Evidence> evidence = [new Evidence("channel", (Measured(reading) ?? Channel.CoolantIn).Name)];
        if (reading.Has(Channel.AmbientTemperature))
            evidence.Add(new Evidence("ambient_temperature", reading[Channel.AmbientTemperature]));
        return new Finding(
            priority, "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant at {verdict.Value:0.0} °C is {(hot ? "above" : "below")} the working limit of {LimitCelsius:0.0} °C"),
            evidence, Advice.For(Condition));
    }

    public IReadOnlyList<string> Lacks(Reading reading) =>
        Measured(reading) is null ? [reading.Lack(Channel.CoolantIn) ?? $"{Channel.CoolantIn.Name}: never heard"] : [];

    public void Visit(StateVisitor state) => _switch.Visit(state);

    private static Channel? Measured(Reading reading) =>
        reading.Has(Channel.CoolantIn) ? Channel.CoolantIn
        : reading.Has(Channel.CoolantOut) && !reading.Knows(Channel.CoolantIn) ? Channel.CoolantOut
        : null;
}
