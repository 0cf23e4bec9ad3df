using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Coolant;

/// <summary>The coolant is colder than the room's dew point plus a margin: water may condense on tube, optics and high-voltage parts.</summary>
internal sealed class CondensationDetector(CoolantOptions options) : IDetector
{
    private static readonly TimeSpan Oldest = TimeSpan.FromMinutes(15);

    private DelayedSwitch _switch;
    private double _room = double.NaN;
    private double _humidity;
    private double _dewPoint;

    public string Condition => Conditions.CondensationRisk;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.CoolantIn, Channel.AmbientTemperature, Channel.AmbientHumidity);

    public Verdict Update(Reading reading)
    {
        if (!reading.Has(Channel.CoolantIn, Oldest) || !reading.Has(Channel.AmbientTemperature, Oldest) || !reading.Has(Channel.AmbientHumidity, Oldest)
            || reading[Channel.AmbientHumidity] <= 0)
            return default;
        var limit = DewPointCelsius(reading) + options.DewPointMarginKelvins;
        var coolant = reading[Channel.CoolantIn];
        var on = _switch.Update(
            coolant < limit, coolant > limit + options.DeadbandKelvins, reading.At, options.DewPointOnDelaySeconds, options.OffDelaySeconds);
        return new Verdict(on ? Judgement.Breach : Judgement.Normal, coolant, limit);
    }

    public Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            Priorities.Of(Condition, Degree.Plain), "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant at {verdict.Value:0.0} °C is within {options.DewPointMarginKelvins:0.#} K of the room's dew point of {DewPointCelsius(reading):0.0} °C"),
            [
                new Evidence("dew_point", Math.Round(DewPointCelsius(reading), 2)),
                new Evidence("ambient_temperature", reading[Channel.AmbientTemperature]),
                new Evidence("ambient_humidity", reading[Channel.AmbientHumidity]),
            ],
            Advice.For(Condition))
        : new Finding(Priorities.Of(Condition, Degree.Plain), "°C", "the coolant is clear of the dew point", [], []);

    public IReadOnlyList<string> Lacks(Reading reading) =>
        [.. new[] { Channel.CoolantIn, Channel.AmbientTemperature, Channel.AmbientHumidity }.Select(reading.Lack).OfType<string>()];

    public void Visit(StateVisitor state) => _switch.Visit(state);

    // The room changes more slowly than the coolant: the last dew point is remembered.
    private double DewPointCelsius(Reading reading)
    {
        var (room, humidity) = (reading[Channel.AmbientTemperature], reading[Channel.AmbientHumidity]);
        if (room != _room || humidity != _humidity)
            (_room, _humidity, _dewPoint) = (room, humidity, DewPoint.FromRelativeHumidity(room, humidity));
        return _dewPoint;
    }
}
