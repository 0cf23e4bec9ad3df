using System.Globalization;
using System.Runtime.CompilerServices;

namespace LaserWatch.Recordings;

/// <summary>Reads a decimal number from UTF-8, to the very bits that <see cref="double.Parse(string)"/> gives.</summary>
public static class DecimalText
{
    // Whole numbers up to 2^53 and powers of ten up to 10^22 are exact doubles, so one division of the two rounds once: correctly.
    private const ulong MostExact = 1UL << 53;

    private const NumberStyles Style = NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint | NumberStyles.AllowExponent;

    private static readonly double[] PowersOfTen =
    [
        1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21,
        1e22,
    ];

    /// <summary>Reads a plain decimal (<c>-18.25</c>, no exponent) from the start of the text.</summary>
    /// <returns>The bytes it took; 0 where the number is none, or is too long to be exact this way.</returns>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static int ReadPlain(ReadOnlySpan<byte> text, out double value)
    {
        var i = 0;
        var negative = text.Length > 0 && text[0] == '-';
        if (negative)
            i = 1;

        var digits = 0UL;
        var first = i;
        uint digit;
        while (i < text.Length && (digit = (uint)(text[i] - '0')) <= 9)
        {
            digits = (digits * 10) + digit;
            i++;
        }

        var count = i - first;
        var scale = 0;
        if (i < text.Length && text[i] == '.')
        {
            i++;
            var afterPoint = i;
            while (i < text.Length && (digit = (uint)(text[i] - '0')) <= 9)
            {
                digits = (digits * 10) + digit;
                i++;
            }

            scale = i - afterPoint;
            count += scale;
        }

        // 19 digits cannot overflow 64 bits; more might have, unseen.
        if (count is 0 or > 19 || digits > MostExact)
        {
            value = 0;
            return 0;
        }

        value = digits / PowersOfTen[scale];
        if (negative)
            value = -value;
        return i;
    }

    /// <summary>Reads the whole text as a number. False where it is none, or is not finite.</summary>
    public static bool TryParse(ReadOnlySpan<byte> text, out double value)
    {
        if (text.Length > 0 && ReadPlain(text, out value) == text.Length)
            return true;
        return double.TryParse(text, Style, CultureInfo.InvariantCulture, out value) && double.IsFinite(value);
    }
}
