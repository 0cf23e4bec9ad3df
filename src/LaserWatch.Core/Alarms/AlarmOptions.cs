using System.ComponentModel.DataAnnotations;
using LaserWatch.Rules;

namespace LaserWatch.Alarms;

/// <summary>The life cycle of alarms: what every condition has, and what single conditions have instead.</summary>
/// <remarks>
/// The rules have delays and deadbands of their own, in the units of what they judge. Those here come on top, for the condition that
/// still comes and goes too often in one shop.
/// </remarks>
public sealed record AlarmOptions
{
    /// <summary>Conditions with settings of their own, by name, such as air-pressure-low. Default: none.</summary>
    public IReadOnlyDictionary<string, ConditionOptions> Conditions { get; init; } = new Dictionary<string, ConditionOptions>();

    /// <summary>Annunciations of one alarm within <see cref="ChatterSeconds"/> that make it chattering. Default 3. Fewer hold more alarms.</summary>
    /// <remarks>3 in one minute is the customary starting criterion for chattering alarms (alarm practice after ISA-18.2).</remarks>
    [Range(2, 100)]
    public int ChatterTimes { get; init; } = 3;

    /// <summary>The span in which they are counted, in seconds. Default 60. Longer holds more alarms.</summary>
    [Range(1, 86_400)]
    public double ChatterSeconds { get; init; } = 60;

    /// <summary>A chattering alarm returns only after its condition was gone for so long, in minutes. Default 10. Longer is quieter, and shows the return later.</summary>
    [Range(0.1, 1440)]
    public double ChatterHoldMinutes { get; init; } = 10;

    /// <summary>The settings of one condition; the defaults where it has none of its own.</summary>
    public ConditionOptions Of(string condition) => Conditions.TryGetValue(condition, out var own) ? own : ConditionOptions.Default;

    /// <summary>What is wrong with the settings as a whole, in words; empty where nothing is.</summary>
    /// <param name="limits">Channels with limits of their own, whose conditions are known too.</param>
    public IEnumerable<string> Mistakes(IEnumerable<string> limits)
    {
        var known = Rules.Conditions.All.Concat(limits.Select(Rules.Conditions.OutOfLimits)).ToHashSet(StringComparer.Ordinal);
        foreach (var name in Conditions.Keys.Where(name => !known.Contains(name)))
            yield return $"'{name}' is no condition: use one of {string.Join(", ", known.Order(StringComparer.Ordinal))}";
    }
}

/// <summary>What one condition has instead of the usual.</summary>
public sealed record ConditionOptions
{
    public static readonly ConditionOptions Default = new();

    /// <summary>The priority, whatever the table of priorities says; null: by the table. Default null.</summary>
    public AlarmPriority? Priority { get; init; }

    /// <summary>True: when the condition is over, the alarm waits until a person has acknowledged and reset it. null: air-pressure-lost alone. Default null.</summary>
    public bool? Latching { get; init; }

    /// <summary>Seconds the rule must have found the condition before it is told, on top of the rule's own delay. Default 0. Longer: fewer and later alarms.</summary>
    [Range(0, 86_400)]
    public double OnDelaySeconds { get; init; }

    /// <summary>Seconds the condition must be gone before the alarm returns, on top of the rule's own delay. Default 0. Longer: fewer repeats.</summary>
    [Range(0, 86_400)]
    public double OffDelaySeconds { get; init; }

    /// <summary>How far the value must be past its limit to return, in the unit of the alarm, on top of the rule's own deadband. Default 0. Wider: fewer repeats.</summary>
    [Range(0, 1e9)]
    public double Deadband { get; init; }

    /// <summary>Minutes after which an acknowledged alarm that still stands is told again; 0: never. Default 0.</summary>
    [Range(0, 43_200)]
    public double ReAlarmMinutes { get; init; }
}
