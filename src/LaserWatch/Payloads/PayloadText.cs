using System.Globalization;
using System.Text;

namespace LaserWatch.Payloads;

/// <summary>Text from outside, made safe to store and to log.</summary>
internal static class PayloadText
{
    private const int MostQuoted = 40;

    /// <summary>Control characters and lone surrogates become U+FFFD; what is longer than the bound is cut, with '…' as its last character.</summary>
    public static string Clean(string text, int most)
    {
        var cut = text.Length > most;
        var length = cut ? most - 1 : text.Length;
        if (cut && length > 0 && char.IsHighSurrogate(text[length - 1]))
            length--;
        if (!cut && IsClean(text))
            return text;

        var clean = new StringBuilder(length + 1);
        foreach (var rune in text.AsSpan(0, length).EnumerateRunes())
            clean.Append((Rune.IsControl(rune) ? Rune.ReplacementChar : rune).ToString());
        if (cut)
            clean.Append('…');
        return clean.ToString();
    }

    /// <summary>The beginning of a payload for a log line, in quotation marks.</summary>
    public static string Quote(ReadOnlySpan<byte> utf8) =>
        "'" + Clean(Encoding.UTF8.GetString(utf8.Length > 4 * MostQuoted ? utf8[..(4 * MostQuoted)] : utf8), MostQuoted) + "'";

    public static string Quote(ReadOnlySpan<char> text) =>
        "'" + Clean((text.Length > 2 * MostQuoted ? text[..(2 * MostQuoted)] : text).ToString(), MostQuoted) + "'";

    public static string Quote(double number) => number.ToString("R", CultureInfo.InvariantCulture);

    /// <summary>Without the white space of JSON at both ends, and without a byte-order mark before it.</summary>
    public static ReadOnlySpan<byte> Trim(ReadOnlySpan<byte> payload)
    {
        if (payload.StartsWith("\uFEFF"u8))
            payload = payload[3..];
        return payload.Trim(" \t\r\n"u8);
    }

    private static bool IsClean(string text)
    {
        foreach (var rune in text.EnumerateRunes())
        {
            if (Rune.IsControl(rune) || rune == Rune.ReplacementChar)
                return false;
        }

        return true;
    }
}
