namespace LaserWatch.Alarms;

/// <summary>The states of an alarm, as IEC 62682 and ANSI/ISA-18.2 name them. <c>default</c> is normal.</summary>
public enum AlarmState
{
    Normal,
    Unacknowledged,
    Acknowledged,
    ReturnedUnacknowledged,
    Shelved,
    SuppressedByDesign,
    OutOfService,
}

/// <summary>How soon somebody must act, from the consequence and the time to respond.</summary>
public enum AlarmPriority
{
    Low,
    Medium,
    High,
    Urgent,
}

/// <summary>The spelling of states and priorities outside the program.</summary>
public static class AlarmNames
{
    private static readonly string[] States =
    [
        "normal", "unacknowledged", "acknowledged", "returned-unacknowledged", "shelved", "suppressed-by-design",
        "out-of-service",
    ];

    private static readonly string[] Priorities = ["low", "medium", "high", "urgent"];

    public static string Name(this AlarmState state) => States[(int)state];

    public static string Name(this AlarmPriority priority) => Priorities[(int)priority];

    public static bool TryParse(string name, out AlarmState state)
    {
        var place = Array.IndexOf(States, name);
        state = place < 0 ? default : (AlarmState)place;
        return place >= 0;
    }

    public static bool TryParse(string name, out AlarmPriority priority)
    {
        var place = Array.IndexOf(Priorities, name);
        priority = place < 0 ? default : (AlarmPriority)place;
        return place >= 0;
    }
}
