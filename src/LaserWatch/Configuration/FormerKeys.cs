namespace LaserWatch.Configuration;

/// <summary>Keys that had another name once. They are read nowhere; where one is met, the mistake names the key of today.</summary>
internal static class FormerKeys
{
    private static readonly Dictionary<string, string> Today = new(StringComparer.Ordinal)
    {
        ["digestAt"] = "gatherAt",
        ["digestUpTo"] = "gatherUpTo",
        ["escalation"] = "ifUnanswered",
        ["ping"] = "signOfLife",
        ["quietHours"] = "restHours",
    };

    /// <summary>What a key is called today, if that can stand in its place; null otherwise.</summary>
    public static string? NameToday(string key, ICollection<string> known) =>
        Today.GetValueOrDefault(key) is { } name && known.Contains(name) ? name : null;
}
