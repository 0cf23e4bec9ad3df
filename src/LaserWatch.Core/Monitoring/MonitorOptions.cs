namespace LaserWatch.Monitoring;

/// <summary>Everything that tunes the watch over one machine. Every value has a default.</summary>
public sealed record MonitorOptions
{
    public static readonly MonitorOptions Default = new();
}
