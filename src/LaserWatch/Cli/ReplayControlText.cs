using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Recordings;

namespace LaserWatch.Cli;

/// <summary>The controls of a replay as words, a line each.</summary>
public static class ReplayControlText
{
    public const string Known = "hold, go, next, to 12:30:00, to 2026-03-09T12:30:00Z, by +10m, by -10m, pace 10, end";

    /// <summary>Null for an empty line.</summary>
    public static ReplayControl? Parse(string line)
    {
        var words = line.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries);
        return words switch
        {
            [] => null,
            ["hold"] => new ReplayControl.Hold(),
            ["go"] => new ReplayControl.Go(),
            ["next"] => new ReplayControl.Next(),
            ["end"] => new ReplayControl.End(),
            ["to", var place] => To(place),
            ["by", var span] => By(span),
            ["pace", var times] => Pace(times),
            _ => new ReplayControl.NotUnderstood($"'{line.Trim()}' is no control; there are: {Known}"),
        };
    }

    private static ReplayControl By(string text) =>
        text[0] is '+' or '-' && DurationText.TryParse(text[1..], out var span)
            ? new ReplayControl.MoveBy(text[0] == '-' ? -span : span)
            : new ReplayControl.NotUnderstood($"'{text}' is no stretch of time: write +10m (forward) or -10m (back)");

    private static ReplayControl To(string place)
    {
        if (Rfc3339.TryParse(place, out var at))
            return new ReplayControl.MoveTo(at);
        string[] clock = ["hh\\:mm", "hh\\:mm\\:ss", "hh\\:mm\\:ss\\.FFF"];
        return TimeSpan.TryParseExact(place, clock, CultureInfo.InvariantCulture, out var time)
            ? new ReplayControl.MoveToTimeOfDay(time)
            : new ReplayControl.NotUnderstood($"'{place}' is no place in time: write 12:30:00 (UTC) or 2026-03-09T12:30:00Z");
    }

    private static ReplayControl Pace(string text)
    {
        var number = text.EndsWith('x') ? text[..^1] : text;
        return double.TryParse(number, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var times) && times is >= ReplaySpeed.Least and <= ReplaySpeed.Most
            ? new ReplayControl.Pace(times)
            : new ReplayControl.NotUnderstood($"'{text}' is no pace: write a number from {ReplaySpeed.Words}");
    }
}
