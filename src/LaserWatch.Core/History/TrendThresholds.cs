using System.Globalization;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>The levels that the rules in force hold a channel against.</summary>
internal static class TrendThresholds
{
    /// <summary>Of a tube's health ratio; the end of life last.</summary>
    public static IReadOnlyList<TrendThreshold> OfHealth(MonitorOptions options)
    {
        var (current, life) = (options.TubeCurrent, options.TubeLife);
        return
        [
            new("sag", 1 - current.Sag, false, Text($"{current.Sag * 100:0.#} % below the baseline: counts as sag")),
            new("severe sag", 1 - current.SevereSag, false, Text($"{current.SevereSag * 100:0.#} % below the baseline: sag of high priority")),
            new("end of life", life.EndOfLifeRatio, false, Text($"{life.EndOfLifeRatio * 100:0.#} % of the baseline: counts as worn out")),
        ];
    }

    /// <summary>Of any other channel; empty where nothing is set for it.</summary>
    public static IReadOnlyList<TrendThreshold> Of(Channel channel, MonitorOptions options)
    {
        var coolant = options.Coolant;
        if (channel == Channel.CoolantIn || channel == Channel.CoolantOut)
        {
            return
            [
                new("too hot", coolant.HotCelsius, true, Text($"above {coolant.HotCelsius:0.#} °C the coolant is too hot")),
                new("too cold", coolant.ColdCelsius, false, Text($"below {coolant.ColdCelsius:0.#} °C the coolant is too cold")),
            ];
        }

        if (channel == Channel.CoolantFlow && coolant.LeastFlowLitresPerMinute is { } least)
            return [new("least flow", least, false, Text($"below {least:0.##} L/min the coolant flow is too low"))];
        if (channel == Channel.TubeCurrent && options.TubeCurrent.RatedCurrentMilliamps is { } rated)
            return [new("rated current", rated, true, Text($"above {rated:0.#} mA the tube wears sooner"))];
        if (!options.Limits.TryGetValue(channel.Name, out var limits))
            return [];
        List<TrendThreshold> set = [];
        if (limits.High is { } high)
            set.Add(new("upper limit", high, true, Text($"above {high:0.######} {channel.Unit}").TrimEnd() + " is an alarm"));
        if (limits.Low is { } low)
            set.Add(new("lower limit", low, false, Text($"below {low:0.######} {channel.Unit}").TrimEnd() + " is an alarm"));
        return set;
    }

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
