using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Text;
using System.Text.Json;

namespace LaserWatch.Payloads;

/// <summary>A JSON Pointer (RFC 6901), cut up once and then followed through UTF-8 without a tree.</summary>
/// <remarks>
/// Of members with the same name the first counts. By hand: packages follow a pointer through a tree, built anew for each message, and say of a bad one
/// only that it is bad, not the mend.
/// </remarks>
public sealed class JsonPointer
{
    private readonly Token[] _tokens;

    private JsonPointer(string text, Token[] tokens)
    {
        Text = text;
        _tokens = tokens;
    }

    public string Text { get; }

    /// <summary>True for the empty pointer, which is the whole document.</summary>
    public bool IsRoot => _tokens.Length == 0;

    /// <summary>Parses the string form: empty, or each level with a '/' before it; <c>~1</c> stands for '/', <c>~0</c> for '~'.</summary>
    public static bool TryParse(string text, [NotNullWhen(true)] out JsonPointer? parsed, [NotNullWhen(false)] out string? mistake)
    {
        parsed = null;
        mistake = null;
        if (text.Length > 0 && text[0] != '/')
        {
            mistake = $"'{text}' is no JSON Pointer: begin it with '/', such as '/{text}'";
            return false;
        }

        var tokens = new List<Token>();
        foreach (var level in text.Split('/').Skip(1))
        {
            for (var i = level.IndexOf('~', StringComparison.Ordinal); i >= 0; i = level.IndexOf('~', i + 1))
            {
                if (i + 1 >= level.Length || level[i + 1] is not ('0' or '1'))
                {
                    mistake = $"'{text}' is no JSON Pointer: write '~0' for '~' and '~1' for '/' (RFC 6901)";
                    return false;
                }
            }

            var name = level.Replace("~1", "/", StringComparison.Ordinal).Replace("~0", "~", StringComparison.Ordinal);
            tokens.Add(new(Encoding.UTF8.GetBytes(name), IndexOf(name)));
        }

        parsed = new(text, [.. tokens]);
        return true;
    }

    /// <summary>Moves the reader, which stands before the document, onto the value pointed to.</summary>
    /// <returns>False where the document has no such value.</returns>
    /// <exception cref="JsonException">The text up to there is not JSON.</exception>
    public bool TryFind(ref Utf8JsonReader reader)
    {
        if (!reader.Read())
            return false;
        foreach (var token in _tokens)
        {
            var found = reader.TokenType switch
            {
                JsonTokenType.StartObject => EnterMember(ref reader, token.Name),
                JsonTokenType.StartArray => EnterElement(ref reader, token.Index),
                _ => false,
            };
            if (!found)
                return false;
        }

        return true;
    }

    public override string ToString() => Text;

    private static bool EnterMember(ref Utf8JsonReader reader, byte[] name)
    {
        while (reader.Read() && reader.TokenType == JsonTokenType.PropertyName)
        {
            var matches = reader.ValueTextEquals(name);
            reader.Read();
            if (matches)
                return true;
            reader.Skip();
        }

        return false;
    }

    private static bool EnterElement(ref Utf8JsonReader reader, int index)
    {
        if (index < 0)
            return false;
        for (var i = 0; reader.Read() && reader.TokenType != JsonTokenType.EndArray; i++)
        {
            if (i == index)
                return true;
            reader.Skip();
        }

        return false;
    }

    // Digits without a leading zero (RFC 6901 section 4); "-", the element after the last, is never there.
    private static int IndexOf(string name) =>
        (name == "0" || (name.Length > 0 && name[0] != '0'))
        && int.TryParse(name, NumberStyles.None, CultureInfo.InvariantCulture, out var index) ? index : -1;

    private readonly record struct Token(byte[] Name, int Index);
}
