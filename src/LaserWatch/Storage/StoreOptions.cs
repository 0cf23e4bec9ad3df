namespace LaserWatch.Storage;

/// <summary>Where samples, events and alarms are kept.</summary>
public sealed record StoreOptions
{
    /// <summary>The database file, relative to the configuration file's folder.</summary>
    public string Path { get; init; } = "data/laserwatch.db";
}
