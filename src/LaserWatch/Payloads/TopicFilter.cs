namespace LaserWatch.Payloads;

/// <summary>MQTT topic filters (MQTT 5.0, section 4.7): <c>+</c> is one level, <c>#</c> at the end is all that follow.</summary>
/// <remarks>By hand: the MQTT library compares a topic with a filter, but not two filters, and does not say what is wrong with one.</remarks>
public static class TopicFilter
{
    /// <summary>What is wrong with a filter, and the mend; null where nothing is.</summary>
    public static string? Mistake(string filter)
    {
        if (filter.Length == 0)
            return "the topic is empty: give the topic the sensor publishes on";
        if (filter.Length > 65_535 || filter.Contains('\0', StringComparison.Ordinal))
            return "the topic is longer than 65535 characters, or has a NUL in it";
        var levels = filter.Split('/');
        for (var i = 0; i < levels.Length; i++)
        {
            if (levels[i].Length > 1 && levels[i].AsSpan().ContainsAny('+', '#'))
                return $"topic '{filter}': '+' and '#' must stand alone between slashes";
            if (levels[i] == "#" && i != levels.Length - 1)
                return $"topic '{filter}': '#' must be the last level";
        }

        return null;
    }

    /// <summary>True where the topic falls under a filter that has no mistake.</summary>
    public static bool Matches(ReadOnlySpan<char> filter, ReadOnlySpan<char> topic)
    {
        // Topics that begin with $ are the broker's own: a leading wildcard does not cover them.
        if (topic.Length > 0 && topic[0] == '$' && filter.Length > 0 && filter[0] is '+' or '#')
            return false;
        while (true)
        {
            var wanted = NextLevel(ref filter, out var filterGoesOn);
            if (wanted is "#")
                return true;
            var level = NextLevel(ref topic, out var topicGoesOn);
            if (wanted is not "+" && !wanted.SequenceEqual(level))
                return false;
            if (!filterGoesOn || !topicGoesOn)
                return filterGoesOn == topicGoesOn || (filterGoesOn && filter is "#"); // "a/#" covers "a" too
        }
    }

    /// <summary>True where every topic under the narrow filter falls under the wide one too. Neither has a mistake.</summary>
    public static bool Covers(string wide, string narrow) =>
        // '+' takes a '#' for a level like any other, but '#' also stands for fewer and for more levels.
        Matches(wide, narrow)
        && (!narrow.EndsWith('#') || (wide.EndsWith('#') && wide.Count(c => c == '/') <= narrow.Count(c => c == '/')));

    private static ReadOnlySpan<char> NextLevel(ref ReadOnlySpan<char> rest, out bool goesOn)
    {
        var slash = rest.IndexOf('/');
        goesOn = slash >= 0;
        var level = goesOn ? rest[..slash] : rest;
        rest = goesOn ? rest[(slash + 1)..] : [];
        return level;
    }
}
