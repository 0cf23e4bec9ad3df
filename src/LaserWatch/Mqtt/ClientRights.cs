using LaserWatch.Configuration;
using LaserWatch.Payloads;
using LaserWatch.Telemetry;

namespace LaserWatch.Mqtt;

/// <summary>What one client of the embedded broker may publish and hear. What is not allowed here is refused.</summary>
/// <remarks>
/// The topic alone does not say all: a SenML pack names its channels itself. So samples are held to <see cref="MayFeed"/> once
/// more when they are read. Immutable; safe for several threads.
/// </remarks>
public sealed class ClientRights
{
    private readonly ConfiguredClient? _client;
    private readonly Topics _topics;
    private readonly IReadOnlyList<TopicRule> _rules;
    private readonly HashSet<string> _machines;
    private readonly HashSet<string> _channels;
    private readonly List<string> _readable;

    private ClientRights(string account, ConfiguredClient? client, Topics topics, IReadOnlyList<TopicRule> rules)
    {
        Account = account;
        _client = client;
        _topics = topics;
        _rules = rules;
        _machines = new(client?.Machines ?? [], StringComparer.Ordinal);
        _channels = new(client?.Channels ?? [], StringComparer.Ordinal);
        _readable = client is null ? ["#"] : [.. Readable(client)];
    }

    /// <summary>The name it logged in with; empty where none was asked for.</summary>
    public string Account { get; }

    /// <summary>Who it is, where that is known of one person or sensor alone; null for a login that many share.</summary>
    public string? Name => _client?.User;

    /// <summary>Filters under which it may hear everything; to be named when another is refused.</summary>
    public IReadOnlyList<string> MayHear => _readable;

    /// <summary>A client whose name says nothing of its rights: all but what is the agent's own.</summary>
    /// <param name="account">The shared user name; empty where none is asked for.</param>
    internal static ClientRights Shared(string account, Topics topics) => new(account, null, topics, []);

    internal static ClientRights Of(ConfiguredClient client, Topics topics, IReadOnlyList<TopicRule> rules) => new(client.User, client, topics, rules);

    public bool MayPublish(string topic)
    {
        if (topic.StartsWith('$') || topic.AsSpan().ContainsAny('+', '#') || _topics.IsOurs(topic))
            return false;
        if (_client is null)
            return true;

        var prefix = _topics.Root + "/";
        var levels = topic.StartsWith(prefix, StringComparison.Ordinal) ? topic[prefix.Length..].Split('/') : [];
        if (levels is [var machine, "job" or "service" or "command"])
        {
            return HasMachine(machine) && levels[1] switch
            {
                "job" => _client.MayStartJobs,
                "service" => _client.MayLogService,
                _ => _client.MayCommand,
            };
        }

        // A topic that feeds several machines or channels is open to those who may feed all of them.
        var mapped = false;
        foreach (var rule in _rules)
        {
            if (!TopicFilter.Matches(rule.Topic, topic))
                continue;
            mapped = true;
            if (!MayFollow(rule, levels))
                return false;
        }

        return mapped || (levels is [var own, var channel] && MayFeed(own, channel));
    }

    /// <summary>May publish samples of this channel.</summary>
    public bool MayFeed(string machine, string channel) =>
        _client is null || (_client.MaySample && HasMachine(machine) && HasChannel(channel));

    /// <summary>Only what lies wholly within its rights: a filter that is too wide is refused, not narrowed in silence.</summary>
    public bool MaySubscribe(string filter) =>
        _client is null || (TopicFilter.Mistake(filter) is null && _readable.Exists(wide => TopicFilter.Covers(wide, filter)));

    private bool MayFollow(TopicRule rule, string[] levels)
    {
        if (!_client!.MaySample || (rule.Machine ?? levels.FirstOrDefault()) is not { } machine || !HasMachine(machine))
            return false;

        // Where the payload names the channels, each sample is looked at when it is read.
        var channel = rule.Channel ?? (levels.Length >= 2 ? levels[^1] : null);
        return channel is null || rule.Names.Count > 0 || HasChannel(channel);
    }

    private bool HasMachine(string machine) => _machines.Count == 0 || _machines.Contains(machine);

    private bool HasChannel(string channel) => _channels.Count == 0 || _channels.Contains(channel);

    private IEnumerable<string> Readable(ConfiguredClient client)
    {
        var root = _topics.Root;
        var reading = client.MayCommand && client.MayRead == ClientReading.Nothing ? ClientReading.Alarms : client.MayRead;
        if (reading == ClientReading.Nothing)
            yield break;
        var all = client.Machines.Count == 0;
        if (!all)
            yield return $"{root}/_agent/#";
        else if (reading == ClientReading.Everything)
            yield return $"{root}/#";
        foreach (var machine in all ? ["+"] : client.Machines)
        {
            if (reading == ClientReading.Everything)
                yield return $"{root}/{machine}/#";
            yield return $"{root}/{machine}/alarm/#";
            yield return $"{root}/{machine}/status";
        }

        if (all)
            yield return $"{root}/_agent/#";
        if (reading != ClientReading.Everything)
            yield break;
        foreach (var rule in _rules)
        {
            // Under the root the machine's own filter covers it.
            if (rule.Machine is { } machine && HasMachine(machine) && !TopicFilter.Covers($"{root}/#", rule.Topic))
                yield return rule.Topic;
        }
    }
}
