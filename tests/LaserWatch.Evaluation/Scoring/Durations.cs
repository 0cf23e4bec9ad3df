using System.Globalization;
using LaserWatch.Evaluation.Scenarios;

namespace LaserWatch.Evaluation.Scoring;

internal static class Durations
{
    public static string Text(double? seconds) => seconds switch
    {
        null => "–",
        < 120 => string.Create(CultureInfo.InvariantCulture, $"{seconds:0.#} s"),
        < 7200 => string.Create(CultureInfo.InvariantCulture, $"{seconds / 60:0.#} min"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{seconds / 3600:0.#} h"),
    };

    public static string Clock(DelayClock clock) => clock switch
    {
        DelayClock.Beam => "beam on",
        DelayClock.Cutting => "beam on in cuts",
        DelayClock.SwitchedOn => "switched on",
        DelayClock.Air => "beam on with air",
        _ => "beam on, pressure low",
    };
}
