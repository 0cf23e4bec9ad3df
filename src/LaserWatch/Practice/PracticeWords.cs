using System.Globalization;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>Numbers, times and durations as a trainee reads them.</summary>
internal static class PracticeWords
{
    /// <summary>Three digits or so: what an instrument of the shop can say.</summary>
    public static string Number(double value)
    {
        var size = Math.Abs(value);
        var text = value.ToString(size >= 99.95 ? "0" : size >= 9.995 ? "0.#" : "0.##", CultureInfo.InvariantCulture);
        return text == "-0" ? "0" : text;
    }

    public static string With(double value, string unit) => unit.Length == 0 ? Number(value) : $"{Number(value)} {unit}";

    /// <summary>In UTC, as all times of a recording.</summary>
    public static string TimeOfDay(Instant at) => at.ToDateTimeOffset().ToString("HH:mm:ss", CultureInfo.InvariantCulture);

    public static string DayAndTime(Instant at) => at.ToDateTimeOffset().ToString("yyyy-MM-dd HH:mm:ss", CultureInfo.InvariantCulture);

    /// <summary><c>45 s</c>, <c>3 min 20 s</c>, <c>2 h 05 min</c>, <c>3 d 4 h</c>.</summary>
    public static string Duration(TimeSpan span)
    {
        var seconds = (long)Math.Round(Math.Abs(span.TotalSeconds));
        return seconds switch
        {
            < 60 => $"{seconds} s",
            < 3600 => seconds % 60 == 0 ? $"{seconds / 60} min" : $"{seconds / 60} min {seconds % 60:00} s",
            < 86_400 => $"{seconds / 3600} h {seconds % 3600 / 60:00} min",
            _ => $"{seconds / 86_400} d {seconds % 86_400 / 3600} h",
        };
    }

    public static string Minutes(double minutes) => string.Create(CultureInfo.InvariantCulture, $"{minutes:0.#} min");
}
