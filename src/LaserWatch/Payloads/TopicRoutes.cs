using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

internal enum RouteKind
{
    /// <summary>Said by this program itself.</summary>
    Ignored,
    Rejected,
    Values,
    Job,
    Service,
    Command,
}

/// <summary>What the messages of one topic are, for one machine.</summary>
internal sealed record Route(RouteKind Kind, string? Machine, Feed[] Feeds, Rejection Rejection = Rejection.None, string? Detail = null);

/// <summary>Topics to routes. Remembers what it found, up to a bound, so that a known topic costs one look-up.</summary>
internal sealed class TopicRoutes
{
    private readonly PayloadOptions _options;
    private readonly string _prefix;
    private readonly IReadOnlyList<TopicRule> _rules;
    private readonly HashSet<string> _machines;
    private readonly ChannelTable _channels;
    private readonly Dictionary<string, Known> _known = new(StringComparer.Ordinal);
    private readonly HashSet<string> _names = new(StringComparer.Ordinal);
    private Known? _last;

    public TopicRoutes(
        PayloadOptions options, IReadOnlyList<TopicRule> rules, IReadOnlyCollection<string> machines, ChannelTable channels)
    {
        _options = options;
        _prefix = options.Root + "/";
        _rules = rules;
        _machines = new(machines, StringComparer.Ordinal);
        _channels = channels;
    }

    /// <summary>One route, or one for each machine that a sensor is shared by.</summary>
    public Route[] Find(string topic)
    {
        // Sensors speak in turn: what followed upon the last topic mostly follows again, and is found without a look at its letters.
        if (_last?.Next is { } next && ReferenceEquals(next.Topic, topic))
            return (_last = next).Routes;
        if (!_known.TryGetValue(topic, out var known))
            known = Learn(topic);
        _last?.Next = known;
        _last = known;
        return known.Routes;
    }

    private Known Learn(string topic)
    {
        // Started afresh when full: a flood of made-up topics passes, and the true ones come back at once.
        if (_known.Count >= _options.MostTopics)
        {
            _known.Clear();
            _names.Clear();
            _last = null;
        }

        var known = new Known(topic, Array.ConvertAll(Make(topic), route => route with { Machine = NameOf(route.Machine) }));
        _known.Add(topic, known);
        return known;
    }

    /// <summary>One string for each machine, whatever its topics: who gets the name can tell the machine before by it.</summary>
    private string? NameOf(string? machine)
    {
        if (machine is null)
            return null;
        if (_names.TryGetValue(machine, out var known))
            return known;
        _names.Add(machine);
        return machine;
    }

    private Route[] Make(string topic)
    {
        var underRoot = topic.StartsWith(_prefix, StringComparison.Ordinal);
        var levels = underRoot ? topic[_prefix.Length..].Split('/') : [];
        if (IsOwn(levels))
            return [new(RouteKind.Ignored, null, [])];

        if (levels.Length == 2 && levels[1] is "job" or "service" or "command")
        {
            var kind = levels[1] switch { "job" => RouteKind.Job, "service" => RouteKind.Service, _ => RouteKind.Command };
            return [MachineMistake(levels[0]) ?? new(kind, levels[0], [])];
        }

        var byRules = ByRules(topic, levels);
        return byRules.Length > 0 ? byRules : [underRoot ? ByOwnTopic(topic, levels) : Unknown(topic)];
    }

    private static bool IsOwn(string[] levels) =>
        levels is ["status"] or [_, "status"] or [_, "alarm", _, ..] or ["_agent", "heartbeat" or "flood"];

    private Route[] ByRules(string topic, string[] levels)
    {
        var feeds = new List<(string Machine, Feed Feed)>();
        foreach (var rule in _rules)
        {
            if (!TopicFilter.Matches(rule.Topic, topic))
                continue;
            var machine = rule.Machine ?? (levels.Length >= 2 ? levels[0] : null);
            if (machine is null)
                continue;
            // Of two rules for one channel of a machine the first counts.
            var channel = rule.Channel ?? (levels.Length >= 2 ? levels[^1] : null);
            if (channel is null || !feeds.Exists(f => f.Machine == machine && f.Feed.ChannelName == channel))
                feeds.Add((machine, new(rule, channel, _channels)));
        }

        return [.. feeds.GroupBy(f => f.Machine, f => f.Feed).Select(
            ofMachine => MachineMistake(ofMachine.Key) ?? new(RouteKind.Values, ofMachine.Key, [.. ofMachine]))];
    }

    private Route ByOwnTopic(string topic, string[] levels)
    {
        if (levels.Length != 2)
            return Unknown(topic);
        if (MachineMistake(levels[0]) is { } wrong)
            return wrong;
        if (!ChannelTable.IsValidName(levels[1]))
        {
            return new(RouteKind.Rejected, levels[0], [], Rejection.UnknownChannel,
                $"{PayloadText.Quote(levels[1])} is no channel name: use 1 to 64 of A-Z a-z 0-9 _ - .");
        }

        return new(RouteKind.Values, levels[0], [new(null, levels[1], _channels)]);
    }

    private Route? MachineMistake(string machine)
    {
        if (!MachineName.IsValid(machine))
        {
            return new(RouteKind.Rejected, null, [], Rejection.UnknownMachine,
                $"{PayloadText.Quote(machine)} is no machine name: use {MachineName.Rule}");
        }

        return _options.OnlyConfiguredMachines && !_machines.Contains(machine)
            ? new(RouteKind.Rejected, null, [], Rejection.UnknownMachine, $"machine '{machine}' is not configured: add it, or allow others")
            : null;
    }

    private Route Unknown(string topic) =>
        new(RouteKind.Rejected, null, [], Rejection.UnknownTopic,
            $"topic {PayloadText.Quote(topic)} is neither {_prefix}<machine>/<channel> nor named by a rule");

    private sealed class Known(string topic, Route[] routes)
    {
        public string Topic => topic;

        public Route[] Routes => routes;

        /// <summary>The topic that came after this one, the last time that another did.</summary>
        public Known? Next { get; set; }
    }
}
