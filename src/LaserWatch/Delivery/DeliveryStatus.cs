using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

/// <summary>How the delivery of alarms fares, for whoever watches the agent. Counts are since the start of the process, but for what waits.</summary>
/// <param name="InMemory">Changes that are not on the disk yet.</param>
/// <param name="Dropped">Changes for which there was no room; the next start finds them in the store.</param>
public sealed record DeliveryStatus(IReadOnlyList<OutletStatus> Outlets, int InMemory, long Dropped)
{
    public static readonly DeliveryStatus Off = new([], 0, 0);
}

/// <param name="Waiting">Messages to be sent as soon as the outlet takes them.</param>
/// <param name="Held">Changes that wait for the end of rest hours, to be gathered, or in a flood.</param>
/// <param name="Delivered">Messages taken, the late ones among them.</param>
/// <param name="Late">Messages taken that were marked as late.</param>
/// <param name="Failures">Attempts that failed.</param>
/// <param name="Refused">Messages refused for good, or given up by age.</param>
/// <param name="FailingSince">Since when no attempt has succeeded; null while it works.</param>
public sealed record OutletStatus(
    string Name, int Waiting, int Held, long Delivered, long Late, long Failures, long Refused, Instant? FailingSince);
