namespace LaserWatch.Telemetry;

/// <summary>Something done to a machine, such as a tube replaced. Parts and actions are open sets.</summary>
/// <param name="Part">Such as <c>tube</c>, <c>lens</c>, <c>water-trap</c>, <c>test-cut</c>.</param>
/// <param name="Action">Such as <c>replaced</c>, <c>cleaned</c>, <c>drained</c>.</param>
/// <param name="Details">Further fields of the event as sent (power, speed, outcome …), by name; never null.</param>
public sealed record ServiceEvent(
    string Machine, Instant At, string Part, string Action, string? Serial, string? Note,
    IReadOnlyDictionary<string, string> Details)
{
    public static readonly IReadOnlyDictionary<string, string> NoDetails = new Dictionary<string, string>();
}
