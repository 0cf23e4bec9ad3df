using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string CondensationRisk = "condensation-risk";
}

/// <summary>The coolant is colder than the room's dew point plus a margin: water may condense on tube, optics and high-voltage parts.</summary>
internal sealed class CondensationRisk(CoolantOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.CondensationRisk)
    {
        Judged = "The coolant is within 2 K of the room's dew point for 2 min.",
        Triggers = ChannelSet.Of(Channel.CoolantIn, Channel.AmbientTemperature, Channel.AmbientHumidity),
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Hours, "dew on optics and high-voltage parts"),
        ],
        ExplainedBy =
        [
            new(Conditions.CoolantCold, false, "cold coolant is nearer to the dew point"),
        ],
        Checks =
        [
            "Raise the coolant's set point above the dew point and its margin, or dry the room",
            "Machine off, covers on: look for drops on the tube and the high-voltage lead before it is fired again; do not touch them",
            "Check the humidity sensor's place: not in the exhaust, not in the sun",
        ],
    };

    private static readonly TimeSpan Oldest = TimeSpan.FromMinutes(15);

    private DelayedSwitch _switch;

    public override Verdict Update(Reading reading)
    {
        if (!Knows(reading))
            return default;
        var coolant = reading[CanonicalIndex.CoolantIn];
        var limit = DewPointCelsius(reading) + options.DewPointMarginKelvins;
        var on = _switch.Update(coolant < limit, coolant > limit + options.DeadbandKelvins, reading.At, options.DewPointOnDelaySeconds, options.OffDelaySeconds);
        return new Verdict(on ? Judgement.Breach : Judgement.Normal, coolant, limit);
    }

    public override Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            PriorityOf(Degree.Plain), "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant at {verdict.Value:0.0} °C is within {options.DewPointMarginKelvins:0.#} K of the room's dew point of {DewPointCelsius(reading):0.0} °C"),
            [
                new Evidence("dew_point", Math.Round(DewPointCelsius(reading), 2)),
                new Evidence("ambient_temperature", reading[CanonicalIndex.AmbientTemperature]),
                new Evidence("ambient_humidity", reading[CanonicalIndex.AmbientHumidity]),
            ],
            Checks)
        : new Finding(PriorityOf(Degree.Plain), "°C", "the coolant is clear of the dew point", [], []);

    public override IReadOnlyList<string> Lacks(Reading reading) =>
        [.. new[] { Channel.CoolantIn, Channel.AmbientTemperature, Channel.AmbientHumidity }.Select(reading.Lack).OfType<string>()];

    public override void Visit(StateVisitor state) => _switch.Visit(state);

    private static bool Knows(Reading reading) =>
        reading.Has(CanonicalIndex.CoolantIn, Oldest) && reading.Has(CanonicalIndex.AmbientTemperature, Oldest) && reading.Has(CanonicalIndex.AmbientHumidity, Oldest)
        && !(reading[CanonicalIndex.AmbientHumidity] <= 0);

    private static double DewPointCelsius(Reading reading) =>
        DewPoint.FromRelativeHumidity(reading[CanonicalIndex.AmbientTemperature], reading[CanonicalIndex.AmbientHumidity]);
}
