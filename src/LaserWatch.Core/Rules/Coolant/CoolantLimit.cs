using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>The coolant is outside its working limits: entering the tube where that is measured, else leaving it.</summary>
internal abstract class CoolantLimit(CoolantOptions options, bool hot, RuleSheet sheet) : Rule(sheet)
{
    private DelayedSwitch _switch;

    private double LimitCelsius => hot ? options.HotCelsius : options.ColdCelsius;

    public override Verdict Update(Reading reading)
    {
        var channel = Measured(reading);
        if (channel < 0 || !reading.IsFresh(channel))
            return default;
        var celsius = reading[channel];
        var past = hot ? celsius - LimitCelsius : LimitCelsius - celsius;
        var on = _switch.Update(
            past > 0, past < -options.DeadbandKelvins, reading.TimeOf(channel), options.OnDelaySeconds, options.OffDelaySeconds);
        return new Verdict(on ? Judgement.Breach : Judgement.Normal, celsius, LimitCelsius);
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        var priority = PriorityOf(Degree.Plain);
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(priority, "°C", "the coolant is back in its range", [], []);
        List<Evidence> evidence = [new Evidence("channel", (Measured(reading) == CanonicalIndex.CoolantOut ? Channel.CoolantOut : Channel.CoolantIn).Name)];
        if (reading.Has(CanonicalIndex.AmbientTemperature))
            evidence.Add(new Evidence("ambient_temperature", reading[CanonicalIndex.AmbientTemperature]));
        return new Finding(
            priority, "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant at {verdict.Value:0.0} °C is {(hot ? "above" : "below")} the working limit of {LimitCelsius:0.0} °C"),
            evidence, Checks);
    }

    public override IReadOnlyList<string> Lacks(Reading reading) =>
        Measured(reading) < 0 ? [reading.Lack(Channel.CoolantIn) ?? $"{Channel.CoolantIn.Name}: never heard"] : [];

    public override void Visit(StateVisitor state) => _switch.Visit(state);

    // The index of the channel; −1 where neither can be used.
    private static int Measured(Reading reading) =>
        reading.Has(CanonicalIndex.CoolantIn) ? CanonicalIndex.CoolantIn
        : reading.Has(CanonicalIndex.CoolantOut) && !reading.Knows(CanonicalIndex.CoolantIn) ? CanonicalIndex.CoolantOut
        : -1;
}
