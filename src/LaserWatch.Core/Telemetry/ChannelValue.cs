namespace LaserWatch.Telemetry;

/// <summary>One channel's value within a group that shares its instant.</summary>
public readonly record struct ChannelValue(Channel Channel, double Value);
