using System.Buffers;
using System.Text;
using System.Text.Json;
using LaserWatch.Alarms;
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
        Span<char> letters = stackalloc char[LongestText];
        if (text.Length > LongestText || Ascii.ToUtf16(text, letters, out var length) != OperationStatus.Done
            || !Rfc3339.TryParseAny(letters[..length], out var nanoseconds))
            return false;
        time = new((long)Int128.Clamp(nanoseconds, long.MinValue, long.MaxValue));
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
}
