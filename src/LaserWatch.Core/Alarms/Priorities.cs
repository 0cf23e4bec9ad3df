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

/// <summary>One line of the table: why a condition has its priority.</summary>
public readonly record struct PriorityRow(string Condition, Degree Degree, Consequence Consequence, TimeToRespond Time, string Why)
{
    public AlarmPriority Priority => Priorities.Of(Consequence, Time);
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

    public static readonly IReadOnlyList<PriorityRow> Table =
    [
        new(Conditions.AirPressureLost, Degree.Plain, Consequence.Harm, TimeToRespond.Seconds, "without air assist the cut can catch fire"),
        new(Conditions.AirPressureLow, Degree.Advice, Consequence.Scrap, TimeToRespond.Days, "still within the tolerance of the job"),
        new(Conditions.AirPressureLow, Degree.Plain, Consequence.Scrap, TimeToRespond.Minutes, "the cut under way may not go through"),
        new(Conditions.AirPathRestricted, Degree.Advice, Consequence.Scrap, TimeToRespond.Days, "still cuts, or only set too high"),
        new(Conditions.AirPathRestricted, Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "less air at the cut; its quality goes first"),
        new(Conditions.TubeCurrentSag, Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "thick cuts fail first"),
        new(Conditions.TubeCurrentSag, Degree.Severe, Consequence.Scrap, TimeToRespond.Minutes, "most cuts fail"),
        new(Conditions.TubeCurrentStep, Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "something broke: tube, supply or high-voltage path"),
        new(Conditions.TubeCurrentHigh, Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "wears the tube out far sooner"),
        new(Conditions.CoolantHot, Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "a hot tube ages fast and may crack"),
        new(Conditions.CoolantTimeToLimit, Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "hot within minutes"),
        new(Conditions.CoolantFlowLow, Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "the tube warms"),
        new(Conditions.CoolantFlowLow, Degree.Severe, Consequence.Damage, TimeToRespond.Seconds, "without flow a tube is lost within seconds"),
        new(Conditions.CoolantDrift, Degree.Plain, Consequence.Damage, TimeToRespond.Hours, "something in the loop has changed"),
        new(Conditions.CoolantCold, Degree.Plain, Consequence.Damage, TimeToRespond.Hours, "thermal stress, and dew"),
        new(Conditions.CondensationRisk, Degree.Plain, Consequence.Damage, TimeToRespond.Hours, "dew on optics and high-voltage parts"),
        new(Conditions.SensorSilent, Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "rules are blind"),
        new(Conditions.SensorStuck, Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "rules are blind"),
        new(Conditions.SensorImplausible, Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "rules are blind"),
        new(Conditions.TubeLife, Degree.Advice, Consequence.Scrap, TimeToRespond.Days, "time to order"),
        new(Conditions.TubeLife, Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "past its rating"),
        new(Conditions.WaterTrapDue, Degree.Plain, Consequence.Damage, TimeToRespond.Days, "water would reach the lens"),
        new(Conditions.ServiceDue, Degree.Plain, Consequence.Little, TimeToRespond.Days, "by the shop's own intervals"),
    ];

    /// <summary>The priority that a consequence and a time to respond make.</summary>
    public static AlarmPriority Of(Consequence consequence, TimeToRespond time) => Matrix[(int)consequence][(int)time];

    /// <exception cref="ArgumentException">The table has no such line.</exception>
    public static AlarmPriority Of(string condition, Degree degree)
    {
        foreach (var row in Table)
        {
            if (row.Degree == degree && row.Condition == condition)
                return row.Priority;
        }

        throw new ArgumentException($"The table of priorities has no line for {condition}, {degree}.", nameof(condition));
    }
}
