using System.Globalization;
using System.Xml;

namespace LaserWatch.Cli;

/// <summary>A duration on the command line: <c>30m</c>, <c>8h</c>, <c>2d</c>, <c>45s</c>, or ISO 8601 such as <c>PT30M</c>.</summary>
public static class DurationText
{
    public static bool TryParse(string text, out TimeSpan duration)
    {
        duration = default;
        if (text.Length > 1 && double.TryParse(text.AsSpan(0, text.Length - 1), NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var number)
            && number <= 1e6)
        {
            double? seconds = text[^1] switch { 's' => 1, 'm' => 60, 'h' => 3600, 'd' => 86_400, _ => null };
            if (seconds is not null)
            {
                duration = TimeSpan.FromSeconds(number * seconds.Value);
                return duration > TimeSpan.Zero;
            }
        }

        try
        {
            duration = XmlConvert.ToTimeSpan(text.ToUpperInvariant());
            return duration > TimeSpan.Zero;
        }
        catch (Exception malformed) when (malformed is FormatException or OverflowException)
        {
            return false;
        }
    }

    /// <summary>As MQTT messages spell it.</summary>
    public static string ToIso(TimeSpan duration) => XmlConvert.ToString(duration);
}
