using System.ComponentModel.DataAnnotations;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Rules;

namespace LaserWatch.Delivery;

/// <summary>What an outlet is told, and when.</summary>
public abstract record OutletOptions : ICheckedOptions
{
    /// <summary>The least priority that is told here. An alarm's end is told where the alarm was. Default low: all.</summary>
    public AlarmPriority AtLeast { get; init; }

    /// <summary>What is told: <c>raised</c>, <c>ended</c>, <c>acknowledged</c>, <c>set-aside</c> (shelved, suppressed, out of service). An empty list: only what <c>ifUnanswered</c> tells it. Default: raised and ended.</summary>
    public IReadOnlyList<AlarmTransition> Transitions { get; init; } = [AlarmTransition.Raised, AlarmTransition.Ended];

    /// <summary>Only these machines. Default: an empty list, which means all.</summary>
    public IReadOnlyList<string> Machines { get; init; } = [];

    /// <summary>Only these conditions, such as <c>air-pressure-lost</c>. Default: an empty list, which means all.</summary>
    public IReadOnlyList<string> Conditions { get; init; } = [];

    /// <summary>Hours in which only the more urgent is told; the rest comes when they are over, several alarms in one message. null: none.</summary>
    public RestHoursOptions? RestHours { get; init; }

    /// <summary>Local times, as in <c>"07:00"</c>, at which alarms of <c>gatherUpTo</c> and below are told together. An empty list: each at once.</summary>
    public IReadOnlyList<string> GatherAt { get; init; } = [];

    /// <summary>The highest priority that waits to be gathered. Default low. Higher: fewer messages, and later ones.</summary>
    public AlarmPriority GatherUpTo { get; init; }

    public virtual IEnumerable<OptionMistake> Mistakes()
    {
        for (var i = 0; i < GatherAt.Count; i++)
        {
            if (!LocalClock.IsTime(GatherAt[i]))
                yield return new($"gatherAt[{i}]", $"'{GatherAt[i]}' is no time of day", "write it as in \"07:00\"");
        }

        for (var i = 0; i < Conditions.Count; i++)
        {
            if (!Rules.Conditions.All.Contains(Conditions[i]) && !Conditions[i].EndsWith("-out-of-limits", StringComparison.Ordinal))
            {
                var nearest = NearestWord.To(Conditions[i], [.. Rules.Conditions.All]);
                yield return new($"conditions[{i}]", $"there is no condition '{Conditions[i]}'", nearest is null ? "name one of the README's table" : $"did you mean '{nearest}'?");
            }
        }
    }
}

/// <summary>Hours of the night, by the local clock. Those that span midnight are written so: from 22:00 to 07:00.</summary>
public sealed record RestHoursOptions : ICheckedOptions
{
    /// <summary>When they begin, local time.</summary>
    [RegularExpression("([01][0-9]|2[0-3]):[0-5][0-9]", ErrorMessage = "write a time of day as in \"22:00\"")]
    public string From { get; init; } = "22:00";

    /// <summary>When they end, local time.</summary>
    [RegularExpression("([01][0-9]|2[0-3]):[0-5][0-9]", ErrorMessage = "write a time of day as in \"07:00\"")]
    public string To { get; init; } = "07:00";

    /// <summary>Only what is below this priority waits. Default high: low and medium wait. Lower: more comes by night.</summary>
    public AlarmPriority Below { get; init; } = AlarmPriority.High;

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (From == To)
            yield return new("to", "rest hours that end when they begin", "write two different times, or null for none");
    }
}

/// <summary>Whom else an alarm is told to when nobody acknowledges it. Acknowledging, shelving, suppressing it or its end stops that.</summary>
public sealed record UnansweredStep : ICheckedOptions
{
    /// <summary>Minutes after the alarm was raised. Lower: sooner, and more often for what somebody is seeing to already.</summary>
    [Range(0.1, 10_080)]
    public double AfterMinutes { get; init; } = 15;

    /// <summary>Names of webhooks, mailboxes or hooks.</summary>
    public required IReadOnlyList<string> To { get; init; }

    /// <summary>The least priority that is told further. Default high. Lower: more is told further.</summary>
    public AlarmPriority AtLeast { get; init; } = AlarmPriority.High;

    internal TimeSpan After => TimeSpan.FromMinutes(AfterMinutes);

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (To.Count == 0)
            yield return new("to", "nobody to tell it to", "name an outlet");
    }
}
