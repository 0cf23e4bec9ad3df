using LaserWatch.Rules;

namespace LaserWatch.Alarms;

/// <summary>What comes of an alarm that nobody answers.</summary>
public enum Consequence
{
    /// <summary>Work that is late.</summary>
    Little,

    /// <summary>Scrap: the job is spoilt.</summary>
    Scrap,

    /// <summary>The machine is damaged.</summary>
    Damage,

    /// <summary>A person or the building is in danger.</summary>
    Harm,
}

/// <summary>How long a person has to prevent it.</summary>
public enum TimeToRespond
{
    Days,
    Hours,
    Minutes,
    Seconds,
}

/// <summary>How far a condition has gone.</summary>
public enum Degree
{
    /// <summary>Noticed before it matters.</summary>
    Advice,

    /// <summary>What the condition is named for.</summary>
    Plain,

    /// <summary>Markedly worse than that.</summary>
    Severe,
}

/// <summary>
/// The priority of every alarm, from its consequence and the time to respond, as ANSI/ISA-18.2 and IEC 62682 ask (from memory). What is
/// judged severe, and how soon, is common practice of the trade, no published source.
/// </summary>
public static class Priorities
{
    // Columns: days, hours, minutes, seconds.
    private static readonly AlarmPriority[][] Matrix =
    [
        /* little */ [AlarmPriority.Low, AlarmPriority.Low, AlarmPriority.Low, AlarmPriority.Low],
        /* scrap  */ [AlarmPriority.Low, AlarmPriority.Medium, AlarmPriority.High, AlarmPriority.High],
        /* damage */ [AlarmPriority.Low, AlarmPriority.Medium, AlarmPriority.High, AlarmPriority.Urgent],
        /* harm   */ [AlarmPriority.Medium, AlarmPriority.High, AlarmPriority.Urgent, AlarmPriority.Urgent],
    ];

    /// <summary>The priority that a consequence and a time to respond make.</summary>
    public static AlarmPriority Of(Consequence consequence, TimeToRespond time) => Matrix[(int)consequence][(int)time];
}
