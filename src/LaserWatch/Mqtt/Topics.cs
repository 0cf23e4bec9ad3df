namespace LaserWatch.Mqtt;

/// <summary>The topics that the agent itself publishes, and how to know them again.</summary>
public sealed class Topics(string root)
{
    private readonly string _prefix = root + "/";

    public string Root { get; } = root;

    /// <summary>
    /// Whether the agent as a whole lives. The underscore keeps it apart from every machine, whose names cannot hold one.
    /// </summary>
    public string AgentStatus => _prefix + "_agent/status";

    /// <summary>Whether alarms come in a flood, over all machines.</summary>
    public string AgentFlood => _prefix + "_agent/flood";

    /// <summary>Comes as long as the agent judges; beside <see cref="AgentStatus"/>, and never retained.</summary>
    public string AgentHeartbeat => _prefix + "_agent/heartbeat";

    public string Status(string machine) => $"{_prefix}{machine}/status";

    public string Alarm(string machine, string condition) => $"{_prefix}{machine}/alarm/{condition}";

    /// <summary>True for alarm and status topics and the agent's own: only the agent may publish there, and it need not hear itself.</summary>
    public bool IsOurs(ReadOnlySpan<char> topic)
    {
        if (!topic.StartsWith(_prefix, StringComparison.Ordinal))
            return false;
        var rest = topic[_prefix.Length..];
        var slash = rest.IndexOf('/');
        if (slash < 0)
            return false;
        if (rest[0] == '_')
            return true;
        var what = rest[(slash + 1)..];
        return what is "status" or "alarm" || what.StartsWith("alarm/", StringComparison.Ordinal);
    }

    /// <summary>The topics whose retained state must not be lost: alarms.</summary>
    public bool IsAlarm(ReadOnlySpan<char> topic) => IsOurs(topic) && !topic.EndsWith("/status", StringComparison.Ordinal) && !topic.EndsWith("/_agent/heartbeat", StringComparison.Ordinal);

    /// <summary>The topics that say whether somebody lives.</summary>
    public bool IsStatus(ReadOnlySpan<char> topic) => IsOurs(topic) && topic.EndsWith("/status", StringComparison.Ordinal);
}
