namespace LaserWatch.Telemetry;

/// <summary>One value of one channel at one instant, in the channel's canonical unit. Finite.</summary>
public readonly record struct Sample(Channel Channel, Instant At, double Value);
