using System.Buffers.Text;
using System.Text;
using System.Text.Unicode;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Takes one line of line protocol apart: measurement, tags, fields, time.</summary>
/// <remarks>
/// The published text format of InfluxDB: <c>measurement,tag=value field=value 1773041400000000000</c>. A backslash escapes
/// comma and space everywhere outside quotes, the equals sign too in tags and in field keys, and inside quotes the quote and
/// itself; before anything else it is a plain backslash. In a recording the time is not optional. This is the thorough
/// reading; <see cref="TelemetryScanner"/> is the swift one, and must agree with it.
/// </remarks>
public static class LineProtocol
{
    /// <summary>True for lines that say nothing: blank, or a comment.</summary>
    public static bool IsBlankOrComment(ReadOnlySpan<byte> line)
    {
        line = line.TrimStart(" \t"u8);
        return line.IsEmpty || line[0] == '#' || line is [(byte)'\r'];
    }

    /// <summary>Parses a line without its line end.</summary>
    /// <param name="mistake">What is wrong, in words; null where nothing is.</param>
    public static bool TryParse(ReadOnlySpan<byte> line, ParsedLine into, out string? mistake)
    {
        into.Clear();
        mistake = Parse(line, into);
        return mistake is null;
    }

    private static string? Parse(ReadOnlySpan<byte> line, ParsedLine into)
    {
        if (!Utf8.IsValid(line))
            return "is not valid UTF-8";
        line = line.TrimEnd(" \t\r"u8);
        var indent = line.Length - line.TrimStart(" \t"u8).Length;

        var at = indent + LengthOfName(line[indent..], endsAtEquals: false);
        if (at == indent)
            return "has no measurement";
        into.Measurement = Unescape(line[indent..at], "\\, ");

        while (at < line.Length && line[at] == ',')
        {
            at++;
            var keyLength = LengthOfName(line[at..], endsAtEquals: true);
            if (keyLength == 0 || at + keyLength >= line.Length || line[at + keyLength] != '=')
                return "has a tag without '='";
            var key = Unescape(line.Slice(at, keyLength), "\\, =");
            at += keyLength + 1;
            var valueLength = LengthOfName(line[at..], endsAtEquals: false);
            if (valueLength == 0)
                return $"has a tag '{key}' without a value";
            if (into.Tag(key) is not null)
                return $"has the tag '{key}' twice";
            into.Tags.Add((key, Unescape(line.Slice(at, valueLength), "\\, =")));
            at += valueLength;
        }

        into.SeriesKeyLength = at;
        at = SkipSpaces(line, at);
        if (at >= line.Length)
            return "has no fields";

        while (true)
        {
            var keyLength = LengthOfName(line[at..], endsAtEquals: true);
            if (keyLength == 0 || at + keyLength >= line.Length || line[at + keyLength] != '=')
                return "has a field without '='";
            var key = Unescape(line.Slice(at, keyLength), "\\, =");
            at += keyLength + 1;

            if (at < line.Length && line[at] == '"')
            {
                var length = LengthOfQuoted(line[at..]);
                if (length == 0)
                    return $"has a field '{key}' whose text never ends: a closing quote is missing";
                into.Fields.Add(new(key, FieldKind.Text, 0, Unescape(line.Slice(at + 1, length - 2), "\\\"")));
                at += length;
            }
            else
            {
                var length = line[at..].IndexOfAny((byte)',', (byte)' ');
                if (length < 0)
                    length = line.Length - at;
                if (length == 0)
                    return $"has a field '{key}' without a value";
                into.Fields.Add(ReadUnquoted(key, line.Slice(at, length)));
                at += length;
            }

            if (at >= line.Length || line[at] == ' ')
                break;
            if (line[at] != ',')
                return $"has something between the field '{key}' and the next comma";
            at++;
        }

        at = SkipSpaces(line, at);
        if (at >= line.Length)
            return "has no time: every line of a recording ends in nanoseconds since 1970, such as 1773041400000000000";
        if (!Utf8Parser.TryParse(line[at..], out long nanoseconds, out var taken) || taken != line.Length - at)
            return "has a time that is not a whole number of nanoseconds";
        into.Time = new Instant(nanoseconds);
        return null;
    }

    private static int SkipSpaces(ReadOnlySpan<byte> line, int at)
    {
        while (at < line.Length && line[at] is (byte)' ' or (byte)'\t')
            at++;
        return at;
    }

    /// <summary>Up to the next comma, space or (if told) equals sign that no backslash escapes.</summary>
    private static int LengthOfName(ReadOnlySpan<byte> text, bool endsAtEquals)
    {
        var i = 0;
        while (i < text.Length)
        {
            var c = text[i];
            if (c == '\\' && i + 1 < text.Length && text[i + 1] is (byte)',' or (byte)' ' or (byte)'=')
                i += 2;
            else if (c is (byte)',' or (byte)' ' || (endsAtEquals && c == '='))
                break;
            else
                i++;
        }

        return i;
    }

    /// <summary>The length with both quotes; 0 where the second is missing.</summary>
    private static int LengthOfQuoted(ReadOnlySpan<byte> text)
    {
        for (var i = 1; i < text.Length; i++)
        {
            if (text[i] == '\\' && i + 1 < text.Length && text[i + 1] is (byte)'"' or (byte)'\\')
                i++;
            else if (text[i] == '"')
                return i + 1;
        }

        return 0;
    }

    /// <param name="escapable">The backslash, and then the characters it is taken away before.</param>
    private static string Unescape(ReadOnlySpan<byte> text, string escapable)
    {
        var plain = Encoding.UTF8.GetString(text);
        if (!plain.Contains('\\'))
            return plain;
        // In names the backslash does not escape itself; in quoted text it does.
        var escapesItself = escapable.Contains('"');
        var result = new StringBuilder(plain.Length);
        for (var i = 0; i < plain.Length; i++)
        {
            if (plain[i] == '\\' && i + 1 < plain.Length && escapable.Contains(plain[i + 1]) && (escapesItself || plain[i + 1] != '\\'))
                i++;
            result.Append(plain[i]);
        }

        return result.ToString();
    }

    private static LineField ReadUnquoted(string key, ReadOnlySpan<byte> text)
    {
        var raw = Encoding.UTF8.GetString(text);
        if (raw is "t" or "T" or "true" or "True" or "TRUE")
            return new(key, FieldKind.Truth, 1, raw);
        if (raw is "f" or "F" or "false" or "False" or "FALSE")
            return new(key, FieldKind.Truth, 0, raw);
        if (text[^1] == 'i')
        {
            return Utf8Parser.TryParse(text[..^1], out long whole, out var taken) && taken == text.Length - 1
                ? new(key, FieldKind.Whole, whole, raw)
                : new(key, FieldKind.Unreadable, 0, raw);
        }

        if (text[^1] == 'u')
        {
            return Utf8Parser.TryParse(text[..^1], out ulong whole, out var taken) && taken == text.Length - 1
                ? new(key, FieldKind.Whole, whole, raw)
                : new(key, FieldKind.Unreadable, 0, raw);
        }

        return DecimalText.TryParse(text, out var number)
            ? new(key, FieldKind.Number, number, raw)
            : new(key, FieldKind.Unreadable, 0, raw);
    }
}
