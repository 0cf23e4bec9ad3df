using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;

namespace LaserWatch.Delivery;

/// <summary>How alarms reach people and machines beyond MQTT. With no webhook, mailbox or hook named, nothing of it exists.</summary>
public sealed record DeliveryOptions : ICheckedOptions
{
    /// <summary>What an outlet may be called: it stands in logs, files and headers.</summary>
    internal const string NamePattern = "^[a-z0-9-]{1,32}$";

    internal const string NameRule = "1 to 32 of a-z, 0-9 and '-'";

    /// <summary>Time zone of rest hours, gathered messages and texts, as in <c>Europe/Berlin</c> (IANA). null: this machine's own.</summary>
    public string? TimeZone { get; init; }

    /// <summary>Seconds after which what comes is marked as late. Default 60. Lower: more is marked after a short outage; higher: an old alarm may pass for a new one.</summary>
    [Range(1, 86_400)]
    public int LateAfterSeconds { get; init; } = 60;

    /// <summary>Seconds at most between two attempts to reach an outlet that is away; they begin at 1 and double. Default 300. Lower: sooner there when it is back, and more knocking until then.</summary>
    [Range(1, 86_400)]
    public int LongestRetrySeconds { get; init; } = 300;

    /// <summary>Days that a message waits for its outlet, and that a delivered one is remembered so that it is not sent twice. Default 14. Higher: longer outages lose nothing, and more old news comes after them.</summary>
    [Range(1, 3650)]
    public int KeepDays { get; init; } = 14;

    /// <summary>Minutes between two messages to an outlet while alarms come in a flood; the root cause goes at once. Default 10. Lower: sooner, and more messages.</summary>
    [Range(1, 1440)]
    public int FloodIntervalMinutes { get; init; } = 10;

    /// <summary>HTTP addresses that each alarm is posted to, by name.</summary>
    [KeyPattern(NamePattern, NameRule)]
    public IReadOnlyDictionary<string, WebhookOptions> Webhooks { get; init; } = new Dictionary<string, WebhookOptions>();

    /// <summary>Mailboxes, by name.</summary>
    [KeyPattern(NamePattern, NameRule)]
    public IReadOnlyDictionary<string, MailOptions> Mail { get; init; } = new Dictionary<string, MailOptions>();

    /// <summary>Programs of this machine, by name.</summary>
    [KeyPattern(NamePattern, NameRule)]
    public IReadOnlyDictionary<string, HookOptions> Hooks { get; init; } = new Dictionary<string, HookOptions>();

    /// <summary>Whom else an alarm is told to when nobody acknowledges it.</summary>
    public IReadOnlyList<UnansweredStep> IfUnanswered { get; init; } = [];

    /// <summary>All outlets by name: webhooks, mailboxes, hooks.</summary>
    internal IEnumerable<KeyValuePair<string, OutletOptions>> Outlets() =>
        Webhooks.Select(o => KeyValuePair.Create(o.Key, (OutletOptions)o.Value))
            .Concat(Mail.Select(o => KeyValuePair.Create(o.Key, (OutletOptions)o.Value)))
            .Concat(Hooks.Select(o => KeyValuePair.Create(o.Key, (OutletOptions)o.Value)));

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (TimeZone is not null && !LocalClock.Knows(TimeZone))
            yield return new("timeZone", $"there is no time zone '{TimeZone}'", "write its name as in \"Europe/Berlin\", or null for this machine's own");

        var names = Outlets().Select(o => o.Key).ToList();
        foreach (var twice in names.GroupBy(n => n).Where(g => g.Count() > 1))
            yield return new("", $"two outlets are called '{twice.Key}'", "give each a name of its own");
        for (var i = 0; i < IfUnanswered.Count; i++)
        {
            for (var j = 0; j < IfUnanswered[i].To.Count; j++)
            {
                if (!names.Contains(IfUnanswered[i].To[j]))
                    yield return new($"ifUnanswered[{i}].to[{j}]", $"there is no outlet '{IfUnanswered[i].To[j]}'", names.Count == 0 ? "name a webhook, mailbox or hook first" : $"name one of {string.Join(", ", names)}");
            }
        }
    }

    /// <summary>The same, with every relative path made absolute.</summary>
    internal DeliveryOptions RelativeTo(string folder) => this with
    {
        Webhooks = Webhooks.ToDictionary(o => o.Key, o => o.Value.RelativeTo(folder)),
        Mail = Mail.ToDictionary(o => o.Key, o => o.Value.RelativeTo(folder)),
    };
}
