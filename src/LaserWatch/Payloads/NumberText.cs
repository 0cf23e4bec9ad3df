using System.Buffers.Text;
using System.Globalization;
using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>Numbers as sensors write them: plain or with an exponent, a point as the decimal sign, nothing before or after.</summary>
internal static class NumberText
{
    /// <summary>Beyond this, in seconds, a time is only known to be absurd; still safe to add and compare.</summary>
    private const decimal AbsurdlyLarge = 1e20m;

    /// <returns><see cref="Rejection.None"/>, or why the text is no finite number.</returns>
    public static Rejection TryParse(ReadOnlySpan<byte> text, out double value)
    {
        if (Utf8Parser.TryParse(text, out value, out var used) && used == text.Length && (text[0] | 0x20) is not ((byte)'i' or (byte)'n'))
            return double.IsFinite(value) ? Rejection.None : Rejection.NotFinite;
        value = 0;
        return IsNonFiniteWord(text) ? Rejection.NotFinite : Rejection.NotANumber;
    }

    /// <summary>To the last digit, which a double cannot hold of a time in nanoseconds. Absurdly large numbers end at ±1e20.</summary>
    public static bool TryParseExact(ReadOnlySpan<byte> text, out decimal value)
    {
        if (decimal.TryParse(text, NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint | NumberStyles.AllowExponent,
                CultureInfo.InvariantCulture, out value))
        {
            value = decimal.Clamp(value, -AbsurdlyLarge, AbsurdlyLarge);
            return true;
        }

        if (!Utf8Parser.TryParse(text, out double approximate, out var used) || used != text.Length || double.IsNaN(approximate)
            || Math.Abs(approximate) < 1e20 || IsNonFiniteWord(text))
            return false;
        value = approximate < 0 ? -AbsurdlyLarge : AbsurdlyLarge;
        return true;
    }

    private static bool IsNonFiniteWord(ReadOnlySpan<byte> text)
    {
        if (text.Length > 0 && text[0] is (byte)'+' or (byte)'-')
            text = text[1..];
        return Ascii.EqualsIgnoreCase(text, "nan"u8) || Ascii.EqualsIgnoreCase(text, "inf"u8)
            || Ascii.EqualsIgnoreCase(text, "infinity"u8);
    }
}
