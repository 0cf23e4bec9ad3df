using System.Text.Json;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>Times as sensors write them, and whether to believe them.</summary>
/// <remarks>
/// Text is RFC 3339 with an offset, up to nanoseconds (further digits are cut; second 60 is the next minute's first). Numbers count from
/// 1970 in seconds, milliseconds, microseconds or nanoseconds, told apart by size: below 1e11 (the year 5138) they are seconds, and each
/// further unit is a thousand times that.
/// </remarks>
internal static class SensorTime
{
    private const decimal NanosecondsPerSecond = 1_000_000_000m;
    private const int LongestText = 64;

    /// <summary>Reads the time the reader stands on. A JSON null is no time, so arrival stands.</summary>
    /// <returns>False where there is something, but no time.</returns>
    public static bool TryRead(ref Utf8JsonReader reader, out Instant? time)
    {
        time = null;
        switch (reader.TokenType)
        {
            case JsonTokenType.Null:
                return true;
            case JsonTokenType.Number:
                return TryParseEpoch(reader.ValueSpan, out time);
            case JsonTokenType.String:
                if (reader.ValueSpan.Length > LongestText)
                    return false;
                Span<byte> buffer = stackalloc byte[LongestText];
                var text = PayloadText.Trim(buffer[..reader.CopyString(buffer)]);
                return TryParseText(text, out time) || TryParseEpoch(text, out time);
            default:
                return false;
        }
    }

    public static bool TryParseEpoch(ReadOnlySpan<byte> text, out Instant? time)
    {
        time = null;
        if (!NumberText.TryParseExact(text, out var number))
            return false;
        time = Math.Abs(number) switch
        {
            < 1e11m => FromSeconds(number),
            < 1e14m => FromNanoseconds(number * 1_000_000m),
            < 1e17m => FromNanoseconds(number * 1_000m),
            _ => FromNanoseconds(number),
        };
        return true;
    }

    /// <summary>RFC 3339, such as <c>2026-03-09T08:00:00.250Z</c>. Times beyond the range of <see cref="Instant"/> end at its bounds.</summary>
    public static bool TryParseText(ReadOnlySpan<byte> text, out Instant? time)
    {
        time = null;
        if (text.Length < 20
            || !Digits(text[..4], out var year) || text[4] != '-' || !Digits(text[5..7], out var month) || text[7] != '-'
            || !Digits(text[8..10], out var day) || text[10] is not ((byte)'T' or (byte)'t' or (byte)' ')
            || !Digits(text[11..13], out var hour) || text[13] != ':' || !Digits(text[14..16], out var minute) || text[16] != ':'
            || !Digits(text[17..19], out var second))
            return false;
        if (year < 1 || month is < 1 or > 12 || day < 1 || day > DateTime.DaysInMonth(year, month) || hour > 23 || minute > 59 || second > 60)
            return false;

        var rest = text[19..];
        long nanoseconds = 0;
        if (rest[0] == '.')
        {
            var count = 1;
            for (; count < rest.Length && char.IsAsciiDigit((char)rest[count]); count++)
            {
                if (count <= 9)
                    nanoseconds = (nanoseconds * 10) + (rest[count] - '0');
            }

            if (count == 1)
                return false;
            for (var i = count; i <= 9; i++)
                nanoseconds *= 10;
            rest = rest[count..];
        }

        if (!TryParseOffset(rest, out var offsetMinutes))
            return false;
        var days = (new DateTime(year, month, day).Ticks - DateTime.UnixEpoch.Ticks) / TimeSpan.TicksPerDay;
        var seconds = (((days * 24) + hour) * 3600) + (minute * 60) + second - (offsetMinutes * 60);
        time = FromNanoseconds((seconds * NanosecondsPerSecond) + nanoseconds);
        return true;
    }

    /// <summary>Seconds since 1970; beyond the range of <see cref="Instant"/> its bounds.</summary>
    public static Instant FromSeconds(decimal seconds) =>
        FromNanoseconds(decimal.Clamp(seconds, -1e10m, 1e10m) * NanosecondsPerSecond);

    /// <summary>The sensor's time where it is within the limits around arrival, else arrival.</summary>
    public static Instant Believe(Instant time, Instant arrival, PayloadOptions options, out bool skewed)
    {
        skewed = time < arrival - TimeSpan.FromSeconds(options.PastLimitSeconds)
            || time > arrival + TimeSpan.FromSeconds(options.FutureLimitSeconds);
        return skewed ? arrival : time;
    }

    private static Instant FromNanoseconds(decimal nanoseconds) =>
        new((long)decimal.Clamp(decimal.Floor(nanoseconds), long.MinValue, long.MaxValue));

    private static bool TryParseOffset(ReadOnlySpan<byte> text, out int minutes)
    {
        minutes = 0;
        if (text.Length == 1 && text[0] is (byte)'Z' or (byte)'z')
            return true;
        if (text.Length != 6 || text[0] is not ((byte)'+' or (byte)'-') || !Digits(text[1..3], out var hours) || text[3] != ':'
            || !Digits(text[4..6], out var rest) || hours > 23 || rest > 59)
            return false;
        minutes = ((hours * 60) + rest) * (text[0] == '-' ? -1 : 1);
        return true;
    }

    private static bool Digits(ReadOnlySpan<byte> text, out int number)
    {
        number = 0;
        foreach (var c in text)
        {
            if (c is < (byte)'0' or > (byte)'9')
                return false;
            number = (number * 10) + (c - '0');
        }

        return true;
    }
}
