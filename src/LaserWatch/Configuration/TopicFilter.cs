using System.Text;

namespace LaserWatch.Configuration;

/// <summary>What the MQTT standard (5.0, section 4.7) takes as a topic and as a topic filter.</summary>
internal static class TopicFilter
{
    private const int MostBytes = 65535;

    public static bool IsName(string topic) =>
        topic.Length > 0 && topic.AsSpan().IndexOfAny('+', '#', '\0') < 0 && Encoding.UTF8.GetByteCount(topic) <= MostBytes;

    public static bool IsFilter(string filter)
    {
        if (filter.Length == 0 || filter.Contains('\0', StringComparison.Ordinal) || Encoding.UTF8.GetByteCount(filter) > MostBytes)
            return false;
        var levels = filter.Split('/');
        for (var i = 0; i < levels.Length; i++)
        {
            if (levels[i].Contains('+', StringComparison.Ordinal) && levels[i] != "+")
                return false;
            if (levels[i].Contains('#', StringComparison.Ordinal) && (levels[i] != "#" || i < levels.Length - 1))
                return false;
        }

        return true;
    }
}
