using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

/// <summary>Who is told what, and whether at once.</summary>
internal sealed class DeliveryRouter(DeliveryOptions options)
{
    private readonly Dictionary<string, OutletOptions> _outlets = options.Outlets().ToDictionary();
    private readonly LocalClock _clock = new(options.TimeZone);

    public IReadOnlyCollection<string> Outlets => _outlets.Keys;

    public IReadOnlyList<UnansweredStep> IfUnanswered => options.IfUnanswered;

    public TimeSpan Keep => TimeSpan.FromDays(options.KeepDays);

    public TimeSpan LateAfter => TimeSpan.FromSeconds(options.LateAfterSeconds);

    public TimeSpan FloodInterval => TimeSpan.FromMinutes(options.FloodIntervalMinutes);

    public bool Has(string outlet) => _outlets.ContainsKey(outlet);

    /// <summary>Whether the outlet is to be told such a change as news.</summary>
    /// <param name="priority">That of the alarm: an end may bear a lower one than what it ends.</param>
    public bool Wants(string outlet, AlarmChange change, AlarmTransition transition, AlarmPriority priority)
    {
        var o = _outlets[outlet];
        return priority >= o.AtLeast && o.Transitions.Contains(transition) && Concerns(outlet, change);
    }

    /// <summary>Whether machine and condition are the outlet's business.</summary>
    public bool Concerns(string outlet, AlarmChange change)
    {
        var o = _outlets[outlet];
        return (o.Machines.Count == 0 || o.Machines.Contains(change.Machine)) && (o.Conditions.Count == 0 || o.Conditions.Contains(change.Condition));
    }

    /// <summary>Until when the outlet is spared such a change; null: it is told at once.</summary>
    /// <param name="mayWait">False where it must not wait to be gathered: somebody was to act on it already.</param>
    public Instant? HeldUntil(string outlet, AlarmPriority priority, Instant now, bool mayWait = true)
    {
        var o = _outlets[outlet];
        Instant? until = null;
        if (mayWait && o.GatherAt.Count > 0 && priority <= o.GatherUpTo)
            until = _clock.Next(o.GatherAt, now);
        if (o.RestHours is { } rest && priority < rest.Below && _clock.EndOfRest(rest, until ?? now) is { } end)
            until = end;
        return until;
    }
}
