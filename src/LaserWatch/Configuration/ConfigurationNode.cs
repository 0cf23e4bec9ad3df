using System.Globalization;
using System.Text;
using System.Text.Json;

namespace LaserWatch.Configuration;

internal enum NodeKind
{
    Null,
    Bool,
    Number,
    Text,
    List,
    Object,
}

/// <summary>One JSON value that knows its line and its path, which the parsed documents of the base library do not.</summary>
internal sealed class ConfigurationNode(NodeKind kind, string path, int line, string text = "")
{
    public NodeKind Kind { get; } = kind;

    public string Path { get; } = path;

    public int Line { get; } = line;

    /// <summary>The text of a string, or a number or word as written.</summary>
    public string Text { get; } = text;

    public List<ConfigurationNode> Items { get; } = [];

    /// <summary>In the order of the file. A key met twice stands here once, and was reported.</summary>
    public List<(string Key, int Line, ConfigurationNode Value)> Members { get; } = [];

    public ConfigurationNode? this[string key]
    {
        get
        {
            foreach (var member in Members)
            {
                if (member.Key == key)
                    return member.Value;
            }

            return null;
        }
    }

    public string PathOf(string key)
    {
        var plain = key.Length > 0 && key.All(c => char.IsAsciiLetterOrDigit(c) || c is '_' or '-' or '$');
        return !plain ? $"{Path}[{Quote(key)}]" : Path.Length == 0 ? key : $"{Path}.{key}";
    }

    /// <summary>The node at a path below this one, as in <c>sensors[2].unit</c>, or the last on the way that is there.</summary>
    public ConfigurationNode Nearest(string below)
    {
        var node = this;
        foreach (var step in below.Split('.', '['))
        {
            var next = step.EndsWith(']') && int.TryParse(step[..^1], CultureInfo.InvariantCulture, out var place)
                ? node.Items.ElementAtOrDefault(place)
                : node[step];
            if (next is null)
                break;
            node = next;
        }

        return node;
    }

    /// <summary>This object with another laid over it: objects merge key by key, everything else is replaced.</summary>
    /// <remarks>What comes from the upper one keeps its own line and path, so that a mistake is shown where it was made.</remarks>
    public ConfigurationNode With(ConfigurationNode upper)
    {
        if (Kind != NodeKind.Object || upper.Kind != NodeKind.Object)
            return upper;
        var merged = new ConfigurationNode(NodeKind.Object, upper.Path, upper.Line);
        foreach (var (key, line, value) in Members)
            merged.Members.Add(upper[key] is { } over ? (key, over.Line, value.With(over)) : (key, line, value));
        merged.Members.AddRange(upper.Members.Where(m => this[m.Key] is null));
        return merged;
    }

    /// <summary>As JSON text of one line, without comments.</summary>
    public string ToJson()
    {
        var json = new StringBuilder();
        Append(json, this);
        return json.ToString();
    }

    internal static string Quote(string text) => $"\"{JsonEncodedText.Encode(text, System.Text.Encodings.Web.JavaScriptEncoder.UnsafeRelaxedJsonEscaping)}\"";

    private static void Append(StringBuilder json, ConfigurationNode node)
    {
        switch (node.Kind)
        {
            case NodeKind.Text:
                json.Append(Quote(node.Text));
                break;
            case NodeKind.List:
                json.Append('[');
                foreach (var item in node.Items)
                {
                    Append(json, item);
                    json.Append(',');
                }

                TakeBackComma(json).Append(']');
                break;
            case NodeKind.Object:
                json.Append('{');
                foreach (var (key, _, value) in node.Members)
                {
                    json.Append(Quote(key)).Append(':');
                    Append(json, value);
                    json.Append(',');
                }

                TakeBackComma(json).Append('}');
                break;
            default:
                json.Append(node.Text);
                break;
        }
    }

    private static StringBuilder TakeBackComma(StringBuilder json)
    {
        if (json[^1] == ',')
            json.Length--;
        return json;
    }
}
