using System.Globalization;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>Times as RFC 3339 spells them, to the nanosecond.</summary>
/// <remarks>By hand: the base library stops at 100 ns, knows no leap second, and takes a time without an offset for local.</remarks>
public static class Rfc3339
{
    /// <summary>In UTC, with as many digits after the second as it takes: none, or up to nine.</summary>
    public static string Format(Instant at)
    {
        var seconds = Math.DivRem(at.UnixNanoseconds, 1_000_000_000, out var fraction);
        if (fraction < 0)
        {
            fraction += 1_000_000_000;
            seconds--;
        }

        var whole = DateTimeOffset.FromUnixTimeSeconds(seconds).ToString("yyyy-MM-dd'T'HH:mm:ss", CultureInfo.InvariantCulture);
        return fraction == 0
            ? whole + "Z"
            : whole + "." + fraction.ToString("D9", CultureInfo.InvariantCulture).TrimEnd('0') + "Z";
    }

    /// <summary>Reads a date-time of RFC 3339, with any offset. Digits beyond the nanosecond are cut off.</summary>
    /// <remarks>A leap second (<c>:60</c>) is taken as the second after: our time has none.</remarks>
    public static bool TryParse(ReadOnlySpan<char> text, out Instant at)
    {
        var isTime = TryParseAny(text, out var nanoseconds) && nanoseconds >= long.MinValue && nanoseconds <= long.MaxValue;
        at = isTime ? new Instant((long)nanoseconds) : default;
        return isTime;
    }

    /// <summary>As <see cref="TryParse"/>, in nanoseconds since 1970 also beyond the range of <see cref="Instant"/>.</summary>
    internal static bool TryParseAny(ReadOnlySpan<char> text, out Int128 nanoseconds)
    {
        nanoseconds = default;
        if (text.Length < 20 || text[4] != '-' || text[7] != '-' || text[10] is not ('T' or 't' or ' ') || text[13] != ':' || text[16] != ':'
            || !Digits(text[..4], out var year) || !Digits(text[5..7], out var month) || !Digits(text[8..10], out var day)
            || !Digits(text[11..13], out var hour) || !Digits(text[14..16], out var minute) || !Digits(text[17..19], out var second)
            || year < 1 || month is < 1 or > 12 || day < 1 || day > DateTime.DaysInMonth(year, month)
            || hour > 23 || minute > 59 || second > 60)
        {
            return false;
        }

        var rest = text[19..];
        long fraction = 0;
        if (rest[0] == '.')
        {
            var digits = 1;
            while (digits < rest.Length && char.IsAsciiDigit(rest[digits]))
                digits++;
            if (digits == 1)
                return false;
            for (var place = 1; place <= 9; place++)
                fraction = (fraction * 10) + (place < digits ? rest[place] - '0' : 0);
            rest = rest[digits..];
        }

        if (!TryReadOffset(rest, out var offsetMinutes))
            return false;

        var days = (new DateTime(year, month, day, 0, 0, 0, DateTimeKind.Utc) - DateTime.UnixEpoch).Days;
        var seconds = (((((days * 24L) + hour) * 60) + minute - offsetMinutes) * 60) + second;
        nanoseconds = ((Int128)seconds * 1_000_000_000) + fraction;
        return true;
    }

    private static bool TryReadOffset(ReadOnlySpan<char> text, out int minutes)
    {
        minutes = 0;
        if (text is "Z" or "z")
            return true;
        if (text.Length != 6 || text[0] is not ('+' or '-') || text[3] != ':'
            || !Digits(text[1..3], out var hour) || !Digits(text[4..6], out var minute) || hour > 23 || minute > 59)
        {
            return false;
        }

        minutes = ((hour * 60) + minute) * (text[0] == '-' ? -1 : 1);
        return true;
    }

    private static bool Digits(ReadOnlySpan<char> text, out int value) =>
        int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out value);
}
