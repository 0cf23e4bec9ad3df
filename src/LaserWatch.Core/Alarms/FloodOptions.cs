using System.ComponentModel.DataAnnotations;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>When alarms come faster than one person can take them in, and when several machines point to one cause.</summary>
/// <remarks>
/// Ten in ten minutes per operator is what EEMUA 191 and ISA-18.2 give (read at second hand); that a flood ends below five in ten
/// minutes is ISA-18.2-2016 from memory. The reckoning of common causes is this program's own.
/// </remarks>
public sealed record FloodOptions : IChecked
{
    /// <summary>Annunciations within the window at which a flood begins. Default 10. Higher: called a flood later, and more messages come one by one.</summary>
    [Range(2, 1000)]
    public int StartsAt { get; init; } = 10;

    /// <summary>A flood ends when fewer than so many annunciations are within the window. Default 5. Higher: ends sooner, and may begin again at once.</summary>
    [Range(1, 1000)]
    public int EndsBelow { get; init; } = 5;

    /// <summary>The window, in minutes. Default 10. Higher: slow series of alarms are a flood too, and floods last longer.</summary>
    [Range(1, 120)]
    public double WindowMinutes { get; init; } = 10;

    /// <summary>Share of the shop's machines, two at least, at which like alarms have a common cause. Default 0.5. Lower: a common cause is named more often, also by chance.</summary>
    [Range(0.1, 1)]
    public double CommonShare { get; init; } = 0.5;

    /// <summary>Like alarms of air, sensors or humidity have a common cause when they begin within so many minutes. Default 5. Higher: named more often, also by chance.</summary>
    [Range(0.5, 120)]
    public double CommonWithinMinutes { get; init; } = 5;

    /// <summary>The same for warm coolant, which takes its time, in minutes. Default 30. Higher: named more often, also by chance.</summary>
    [Range(0.5, 480)]
    public double CommonCoolantWithinMinutes { get; init; } = 30;

    /// <summary>What is wrong with the values together, in words; empty where nothing is.</summary>
    public IEnumerable<string> Mistakes()
    {
        if (EndsBelow > StartsAt)
            yield return "'endsBelow' is above 'startsAt': a flood would end where it begins; lower it";
    }

    internal TimeSpan Window => TimeSpan.FromMinutes(WindowMinutes);
}
