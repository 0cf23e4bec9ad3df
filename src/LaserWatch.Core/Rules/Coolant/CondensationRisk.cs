using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>The coolant is colder than the room's dew point plus a margin: water may condense on tube, optics and high-voltage parts.</summary>
internal sealed class CondensationRisk(CoolantOptions options) : IDetector
{
    private static readonly TimeSpan Oldest = TimeSpan.FromMinutes(15);

    private DelayedSwitch _switch;
    private double _room = double.NaN;
    private double _humidity;
    private double _dewPoint;
    private double _highestRoom = double.NaN;
    private double _highestHumidity;
    private double _highestDewPoint;

    public string Condition => Conditions.CondensationRisk;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.CoolantIn, Channel.AmbientTemperature, Channel.AmbientHumidity);

    public Verdict Update(Reading reading)
    {
        Follow(reading);
        return Say(reading);
    }

    /// <summary>Takes the reading; true where the verdict is a breach.</summary>
    public bool Follow(Reading reading)
    {
        if (!Knows(reading))
            return false;
        var coolant = reading[CanonicalIndex.CoolantIn];
        var (past, clear) = (false, true);
        if (!(coolant > HighestDewPoint(reading) + options.DewPointMarginKelvins + options.DeadbandKelvins))
        {
            var limit = DewPointCelsius(reading) + options.DewPointMarginKelvins;
            (past, clear) = (coolant < limit, coolant > limit + options.DeadbandKelvins);
        }

        return _switch.Update(past, clear, reading.At, options.DewPointOnDelaySeconds, options.OffDelaySeconds);
    }

    /// <summary>The verdict on the reading that was taken last.</summary>
    public Verdict Say(Reading reading)
    {
        return !Knows(reading) ? default
            : new Verdict(_switch.IsOn ? Judgement.Breach : Judgement.Normal, reading[CanonicalIndex.CoolantIn], DewPointCelsius(reading) + options.DewPointMarginKelvins);
    }

    public Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            Priorities.Of(Condition, Degree.Plain), "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant at {verdict.Value:0.0} °C is within {options.DewPointMarginKelvins:0.#} K of the room's dew point of {DewPointCelsius(reading):0.0} °C"),
            [
                new Evidence("dew_point", Math.Round(DewPointCelsius(reading), 2)),
                new Evidence("ambient_temperature", reading[CanonicalIndex.AmbientTemperature]),
                new Evidence("ambient_humidity", reading[CanonicalIndex.AmbientHumidity]),
            ],
            Advice.For(Condition))
        : new Finding(Priorities.Of(Condition, Degree.Plain), "°C", "the coolant is clear of the dew point", [], []);

    public IReadOnlyList<string> Lacks(Reading reading) =>
        [.. new[] { Channel.CoolantIn, Channel.AmbientTemperature, Channel.AmbientHumidity }.Select(reading.Lack).OfType<string>()];

    public void Visit(StateVisitor state) => _switch.Visit(state);

    private static bool Knows(Reading reading) =>
        reading.Has(CanonicalIndex.CoolantIn, Oldest) && reading.Has(CanonicalIndex.AmbientTemperature, Oldest) && reading.Has(CanonicalIndex.AmbientHumidity, Oldest)
        && !(reading[CanonicalIndex.AmbientHumidity] <= 0);

    /// <summary>What the dew point is not above, °C: that of a somewhat warmer and damper room, good until the room is outside of it, or well inside.</summary>
    /// <remarks>Dew point grows with both. Where the coolant is clear of this one, the logarithm of each new humidity need not be taken.</remarks>
    private double HighestDewPoint(Reading reading)
    {
        const double Kelvins = 0.5;
        const double Percent = 2;
        const double Rounding = 1e-6;
        var (room, humidity) = (reading[CanonicalIndex.AmbientTemperature], reading[CanonicalIndex.AmbientHumidity]);
        // No room is like that; and far outside the formula does not grow with both.
        if (!(room is > -100 and < 100 && humidity < 200))
            return double.PositiveInfinity;
        if (!(room <= _highestRoom && room > _highestRoom - (3 * Kelvins) && humidity <= _highestHumidity && humidity > _highestHumidity - (3 * Percent)))
        {
            (_highestRoom, _highestHumidity) = (room + Kelvins, humidity + Percent);
            _highestDewPoint = DewPoint.FromRelativeHumidity(_highestRoom, _highestHumidity) + Rounding;
        }

        return _highestDewPoint;
    }

    // The room changes more slowly than the coolant: the last dew point is remembered.
    private double DewPointCelsius(Reading reading)
    {
        var (room, humidity) = (reading[CanonicalIndex.AmbientTemperature], reading[CanonicalIndex.AmbientHumidity]);
        if (room != _room || humidity != _humidity)
            (_room, _humidity, _dewPoint) = (room, humidity, DewPoint.FromRelativeHumidity(room, humidity));
        return _dewPoint;
    }
}
