using System.Globalization;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>One limit that the machine's working is held against.</summary>
/// <param name="Key">Short and unique, such as <c>coolant-hot</c>.</param>
/// <param name="Name">For people, such as "coolant too hot".</param>
/// <param name="Limit">The limit in words and unit.</param>
/// <param name="Lack">Why it is not judged at all; null where it is, as far as its sensors speak.</param>
/// <param name="OnlyInBeam">Judged with the beam on alone.</param>
/// <param name="Judge">Value, limit and excess over it (above 0 is outside) at a moment; null where not known.</param>
internal sealed record LimitRule(
    string Key, string Name, string Unit, string Limit, string? Lack, bool OnlyInBeam, Func<MachineMoment, LimitRule.Judged?> Judge)
{
    public readonly record struct Judged(double Value, double Limit, double Excess);

    public static IReadOnlyList<LimitRule> Of(MonitorOptions options)
    {
        var coolant = options.Coolant;
        List<LimitRule> rules =
        [
            new("coolant-hot", "Coolant too hot", "°C", Text($"above {coolant.HotCelsius:0.##} °C"), null, false,
                moment => Coolant(moment) is { } celsius ? Above(celsius, coolant.HotCelsius) : null),
            new("coolant-cold", "Coolant too cold", "°C", Text($"below {coolant.ColdCelsius:0.##} °C"), null, false,
                moment => Coolant(moment) is { } celsius ? Below(celsius, coolant.ColdCelsius) : null),
            new("condensation-risk", "Condensation risk", "°C",
                Text($"coolant less than {coolant.DewPointMarginKelvins:0.##} K above the room’s dew point"), null, false,
                moment => moment[Channel.CoolantIn] is { } celsius && moment.DewPointCelsius is { } dew ? Below(celsius, dew + coolant.DewPointMarginKelvins) : null),
            new("coolant-flow-low", "Coolant flow too low", "L/min",
                coolant.LeastFlowLitresPerMinute is { } least ? Text($"below {least:0.##} L/min") : "not stated",
                coolant.LeastFlowLitresPerMinute is null ? "no least flow is configured" : null, true,
                moment => coolant.LeastFlowLitresPerMinute is { } limit && moment[Channel.CoolantFlow] is { } flow ? Below(flow, limit) : null),
            new("tube-current-high", "Tube current too high", "mA",
                options.TubeCurrent.RatedCurrentMilliamps is { } rated ? Text($"above the rated {rated:0.##} mA") : "not stated",
                options.TubeCurrent.RatedCurrentMilliamps is null ? "no rated current is configured" : null, true,
                moment => options.TubeCurrent.RatedCurrentMilliamps is { } limit && moment[Channel.TubeCurrent] is { } current ? Above(current, limit) : null),
            new("air-pressure-low", "Air pressure too low", "kPa",
                Text($"below the job’s recorded pressure by more than its tolerance ({options.AirPressure.Tolerance * 100:0.#} % where the record gives none)"), null, true,
                moment => moment.IsAirDue && moment.Record is { AirPressure: { Value: > 0 } recorded } record && moment[Channel.AirPressure] is { } pressure
                    ? Below(pressure, recorded.Value * (1 - (record.AirPressureTolerance ?? options.AirPressure.Tolerance)))
                    : null),
        ];
        return rules;
    }

    /// <summary>The configured limits of a channel that is not canonical.</summary>
    public static IEnumerable<LimitRule> Of(MonitorOptions options, Channel channel)
    {
        if (channel.IsCanonical || !options.Limits.TryGetValue(channel.Name, out var limits))
            yield break;
        if (limits.Low is { } low)
        {
            yield return new(channel.Name + "-low", $"{channel.Name} too low", channel.Unit, Text($"below {low:G6} {channel.Unit}").TrimEnd(), null, false,
                moment => moment[channel] is { } value ? Below(value, low) : null);
        }

        if (limits.High is { } high)
        {
            yield return new(channel.Name + "-high", $"{channel.Name} too high", channel.Unit, Text($"above {high:G6} {channel.Unit}").TrimEnd(), null, false,
                moment => moment[channel] is { } value ? Above(value, high) : null);
        }
    }

    // Where what enters the tube was ever measured, what leaves it does not stand in for it: it is warmer.
    private static double? Coolant(MachineMoment moment) =>
        moment.Held(Channel.CoolantIn) is null ? moment[Channel.CoolantOut] : moment[Channel.CoolantIn];

    private static Judged Above(double value, double limit) => new(value, limit, value - limit);

    private static Judged Below(double value, double limit) => new(value, limit, limit - value);

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
