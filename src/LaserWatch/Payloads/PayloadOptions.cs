using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;

namespace LaserWatch.Payloads;

/// <summary>What is taken from the broker, and what is not.</summary>
public sealed record PayloadOptions
{
    public static readonly PayloadOptions Default = new();

    /// <summary>The first levels of LaserWatch's own topics: <c>laserwatch/&lt;machine&gt;/&lt;channel&gt;</c>. No wildcards, no slash at an end.</summary>
    /// <remarks>In the configuration file it stands once, as <c>broker.topicRoot</c>, since what goes out begins with it too.</remarks>
    [JsonIgnore]
    [RegularExpression("[^/+#]+(/[^/+#]+)*", ErrorMessage = "The root must be topic levels without '+' and '#', such as laserwatch or shop/laserwatch.")]
    public string Root { get; init; } = "laserwatch";

    /// <summary>The largest payload looked at, in bytes. A pack of a hundred values has about 5 kB.</summary>
    [Range(64, 16 * 1024 * 1024)]
    public int MaxPayloadBytes { get; init; } = 64 * 1024;

    /// <summary>How deep JSON may be nested.</summary>
    [Range(2, 256)]
    public int MaxJsonDepth { get; init; } = 16;

    /// <summary>
    /// How long before its arrival a sample may say it was taken, in seconds. Beyond, the sensor's clock is not believed and
    /// arrival time stands. Seven days by default: a persistent session delivers what waited while the agent was off.
    /// </summary>
    [Range(1, 366L * 86_400)]
    public double PastLimitSeconds { get; init; } = 7 * 86_400;

    /// <summary>How long after its arrival a sample may say it was taken, in seconds: the spread of unsynchronised clocks.</summary>
    [Range(0, 86_400)]
    public double FutureLimitSeconds { get; init; } = 60;

    /// <summary>Take samples of configured machines only. By default any machine with a valid name is met at its first sample.</summary>
    public bool OnlyConfiguredMachines { get; init; }

    /// <summary>Topics whose meaning is remembered; more are still understood, only slower.</summary>
    [Range(16, 1_000_000)]
    public int MostTopics { get; init; } = 10_000;
}
