using System.Buffers;
using System.Text;
using System.Text.Json;
using LaserWatch.Payloads;

namespace LaserWatch.Configuration;

/// <summary>JSON text to nodes that know their lines. Comments and trailing commas are allowed.</summary>
internal static class ConfigurationText
{
    /// <summary>Null where the text cannot be read on; the mistakes then say where it stopped.</summary>
    public static ConfigurationNode? Parse(string file, ReadOnlySpan<byte> utf8, List<ConfigurationMistake> mistakes)
    {
        if (utf8.StartsWith("\uFEFF"u8))
            utf8 = utf8[3..];
        if (FirstNotUtf8(utf8) is { } bad)
        {
            mistakes.Add(new(file, "", LineOf(utf8, bad), "not UTF-8 text", "save the file as UTF-8"));
            return null;
        }

        var lines = new LineCounter(utf8);
        var reader = new Utf8JsonReader(
            utf8, new JsonReaderOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
        try
        {
            reader.Read();
            var root = ReadNode(ref reader, ref lines, "", file, mistakes);
            reader.Read(); // what follows the value, other than comments, throws
            return root;
        }
        catch (JsonException e)
        {
            var line = (int)(e.LineNumber ?? 0) + 1;
            var column = (e.BytePositionInLine ?? 0) + 1;
            mistakes.Add(new(
                file, "", line, $"not JSON from column {column} on ({Reason(e)})",
                "look there, and at the end of the line before, for a comma, quote or bracket too many or too few"));
            return null;
        }
        catch (InvalidOperationException)
        {
            // The reader looks at escapes only when asked for the text: half of a surrogate pair has none.
            mistakes.Add(new(
                file, "", lines.At(reader.TokenStartIndex), "a \\u escape that is half of a pair", "write the character itself, or both halves"));
            return null;
        }
    }

    private static ConfigurationNode ReadNode(
        ref Utf8JsonReader reader, ref LineCounter lines, string path, string file, List<ConfigurationMistake> mistakes)
    {
        var line = lines.At(reader.TokenStartIndex);
        switch (reader.TokenType)
        {
            case JsonTokenType.StartObject:
                return ReadObject(ref reader, ref lines, new(NodeKind.Object, path, line), file, mistakes);
            case JsonTokenType.StartArray:
                var list = new ConfigurationNode(NodeKind.List, path, line);
                while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
                    list.Items.Add(ReadNode(ref reader, ref lines, $"{path}[{list.Items.Count}]", file, mistakes));
                return list;
            case JsonTokenType.String:
                return new(NodeKind.Text, path, line, reader.GetString()!);
            case JsonTokenType.Number:
                return new(NodeKind.Number, path, line, Encoding.UTF8.GetString(reader.ValueSpan));
            case JsonTokenType.True:
            case JsonTokenType.False:
                return new(NodeKind.Bool, path, line, Encoding.UTF8.GetString(reader.ValueSpan));
            default:
                return new(NodeKind.Null, path, line, "null");
        }
    }

    private static ConfigurationNode ReadObject(
        ref Utf8JsonReader reader, ref LineCounter lines, ConfigurationNode node, string file, List<ConfigurationMistake> mistakes)
    {
        var firstLines = new Dictionary<string, int>(StringComparer.Ordinal);
        while (reader.Read() && reader.TokenType != JsonTokenType.EndObject)
        {
            var key = reader.GetString()!;
            var line = lines.At(reader.TokenStartIndex);
            reader.Read();
            var value = ReadNode(ref reader, ref lines, node.PathOf(key), file, mistakes);
            if (firstLines.TryAdd(key, line))
                node.Members.Add((key, line, value));
            else
                mistakes.Add(new(file, node.PathOf(key), line, $"the key stands twice, first in line {firstLines[key]}", "keep one of them"));
        }

        return node;
    }

    private static int? FirstNotUtf8(ReadOnlySpan<byte> utf8)
    {
        for (var at = 0; at < utf8.Length;)
        {
            if (Rune.DecodeFromUtf8(utf8[at..], out _, out var taken) != OperationStatus.Done)
                return at;
            at += taken;
        }

        return null;
    }

    private static int LineOf(ReadOnlySpan<byte> utf8, int at) => utf8[..at].Count((byte)'\n') + 1;

    /// <summary>The library's sentence without the position and the advice to programmers behind it.</summary>
    private static string Reason(JsonException e)
    {
        var sentence = PayloadText.Clean(e.Message.Split(". ", 2)[0].TrimEnd('.'), 200); // it may quote what it cannot read
        return char.ToLowerInvariant(sentence[0]) + sentence[1..];
    }

    /// <summary>Counts lines as the reader goes forward, so that the whole costs one pass.</summary>
    private ref struct LineCounter(ReadOnlySpan<byte> utf8)
    {
        private readonly ReadOnlySpan<byte> _utf8 = utf8;
        private int _at;
        private int _line = 1;

        public int At(long place)
        {
            if (place > _at)
            {
                _line += _utf8[_at..(int)place].Count((byte)'\n');
                _at = (int)place;
            }

            return _line;
        }
    }
}
