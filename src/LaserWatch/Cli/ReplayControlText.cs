using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Recordings;

namespace LaserWatch.Cli;

/// <summary>The controls of a replay as words, a line each.</summary>
public static class ReplayControlText
{
    public const string Known = "pause, resume, next, seek 12:30:00, seek 2026-03-09T12:30:00Z, seek +10m, seek -10m, speed 10, stop";

    /// <summary>Null for an empty line.</summary>
    public static ReplayControl? Parse(string line)
    {
        var words = line.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries);
        return words switch
        {
            [] => null,
            ["pause"] => new ReplayControl.Pause(),
            ["resume"] => new ReplayControl.Resume(),
            ["next"] => new ReplayControl.Next(),
            ["stop"] => new ReplayControl.Stop(),
            ["seek", var to] => Seek(to),
            ["speed", var times] => Speed(times),
            _ => new ReplayControl.NotUnderstood($"'{line.Trim()}' is no control; there are: {Known}"),
        };
    }

    private static ReplayControl Seek(string to)
    {
        if (to[0] is '+' or '-' && DurationText.TryParse(to[1..], out var span))
            return new ReplayControl.SeekBy(to[0] == '-' ? -span : span);
        if (Rfc3339.TryParse(to, out var at))
            return new ReplayControl.SeekTo(at);
        string[] clock = ["hh\\:mm", "hh\\:mm\\:ss", "hh\\:mm\\:ss\\.FFF"];
        return TimeSpan.TryParseExact(to, clock, CultureInfo.InvariantCulture, out var time)
            ? new ReplayControl.SeekToTimeOfDay(time)
            : new ReplayControl.NotUnderstood($"'{to}' is no place to seek: write 12:30:00 (UTC), 2026-03-09T12:30:00Z, +10m or -10m");
    }

    private static ReplayControl Speed(string text)
    {
        var number = text.EndsWith('x') ? text[..^1] : text;
        return double.TryParse(number, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var times) && times is >= ReplaySpeed.Least and <= ReplaySpeed.Most
            ? new ReplayControl.Speed(times)
            : new ReplayControl.NotUnderstood($"'{text}' is no speed: write a number from {ReplaySpeed.Words}");
    }
}
