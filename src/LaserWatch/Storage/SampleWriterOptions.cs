using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Storage;

/// <summary>How the agent gathers what it stores.</summary>
public sealed record SampleWriterOptions
{
    /// <summary>
    /// Items (samples, events, alarms …) that may wait for the disk. Default 100 000: some 10 MB, and at 100 samples a second a
    /// quarter of an hour of a full disk. More outlasts a longer fault; what comes beyond it is lost and stored as a gap.
    /// </summary>
    [Range(1000, 10_000_000)]
    public int Capacity { get; init; } = 100_000;

    /// <summary>
    /// Shortest time between two commits, in milliseconds. Default 100. The first item after a pause is committed at once. More
    /// spares a memory card (each commit rewrites whole pages), and makes a sensor that waits for each acknowledgement slower.
    /// </summary>
    [Range(0, 10_000)]
    public int CommitSpacingMs { get; init; } = 100;

    /// <summary>
    /// The same where only samples wait that nobody is waiting for: no event, no alarm, no acknowledgement. Default 1000. Of each
    /// channel some samples are then written together, which touches a page once and not for each; a crash loses so much.
    /// </summary>
    [Range(0, 10_000)]
    public int UnhurriedSpacingMs { get; init; } = 1000;

    /// <summary>Items that are committed without waiting for the spacing. Default 20 000.</summary>
    [Range(1, 1_000_000)]
    public int BatchItems { get; init; } = 20_000;

    /// <summary>
    /// Messages waiting to be acknowledged that are committed without waiting for the spacing. Default 10: half of the 20 that a
    /// broker commonly leaves unacknowledged before it stops sending.
    /// </summary>
    [Range(1, 65_535)]
    public int BatchAcknowledgements { get; init; } = 10;
}
