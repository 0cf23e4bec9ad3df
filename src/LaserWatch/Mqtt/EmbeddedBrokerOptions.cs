using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Mqtt;

/// <summary>The broker inside the agent, for shops that have none.</summary>
public sealed record EmbeddedBrokerOptions
{
    /// <summary>The address to listen on; beyond loopback only with <see cref="User"/> and <see cref="Password"/>.</summary>
    public string Listen { get; init; } = "127.0.0.1";

    [Range(1, 65535)]
    public int Port { get; init; } = 1883;

    public string? User { get; init; }

    public string? Password { get; init; }

    /// <summary>First level of every topic of the contract.</summary>
    public string TopicRoot { get; init; } = "laserwatch";

    /// <summary>Messages kept for one slow subscriber before its oldest are dropped.</summary>
    [Range(100, 1_000_000)]
    public int MostPendingPerClient { get; init; } = 10_000;

    /// <summary>Where retained messages outlive a restart; null: nowhere.</summary>
    public string? RetainedFile { get; init; }
}
