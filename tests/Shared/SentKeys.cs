using System.Text.Json;
using System.Text.RegularExpressions;

namespace LaserWatch;

/// <summary>Holds JSON that the program sends, prints or writes for others to the one spelling of keys: snake case.</summary>
internal static partial class SentKeys
{
    /// <summary>Their members are named by data: channels, conditions, measurements, sections of a page.</summary>
    private static readonly HashSet<string> NamedByData = ["channels", "alarms", "counts", "sections"];

    /// <summary>Their members' values are quoted from a configuration, and spelled as there.</summary>
    private const string Quoted = "differences";

    /// <param name="json">One JSON text, or one a line.</param>
    public static void HoldIn(string json)
    {
        foreach (var line in json.TrimStart().StartsWith("{\n", StringComparison.Ordinal) ? [json] : json.Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            using var document = JsonDocument.Parse(line);
            Hold(document.RootElement);
        }
    }

    public static bool IsSnakeCase(string key) => SnakeCase.IsMatch(key);

    [GeneratedRegex("^[a-z][a-z0-9_]*$")]
    private static partial Regex SnakeCase { get; }

    private static void Hold(JsonElement element, bool namedByData = false, bool isQuoted = false)
    {
        if (element.ValueKind == JsonValueKind.Array)
        {
            foreach (var item in element.EnumerateArray())
                Hold(item, isQuoted: isQuoted);
        }
        else if (element.ValueKind == JsonValueKind.Object)
        {
            foreach (var member in element.EnumerateObject())
            {
                Assert.True(namedByData || IsSnakeCase(member.Name), $"the key '{member.Name}' is not in snake case");
                if (!isQuoted)
                    Hold(member.Value, NamedByData.Contains(member.Name), member.Name == Quoted);
            }
        }
    }
}
