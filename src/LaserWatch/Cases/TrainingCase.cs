using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>How much a case asks of the trainee.</summary>
public enum CaseLevel
{
    /// <summary>One channel says it.</summary>
    Easy,

    Usual,

    /// <summary>Several channels must be held against each other, or the first thought is wrong.</summary>
    Hard,
}

public enum CaseOrigin
{
    /// <summary>Made up by the program's own simulation.</summary>
    Simulated,

    /// <summary>Cut from what a machine's sensors told.</summary>
    Recorded,
}

/// <summary>A recording, and what really was wrong: for learning on yesterday's faults.</summary>
/// <remarks>On the disk it is a folder, see <see cref="CaseFolder"/>; ten are built in, see <see cref="ShippedCases"/>.</remarks>
public sealed record TrainingCase
{
    /// <summary>The folder's name.</summary>
    public required string Name { get; init; }

    public required string Title { get; init; }

    /// <summary>The one machine of the recording.</summary>
    public required string Machine { get; init; }

    public required CaseLevel Level { get; init; }

    /// <summary>Names of causes in causes.json, the likeliest first. Empty: nothing is wrong.</summary>
    public required IReadOnlyList<string> Causes { get; init; }

    /// <summary>When it began to go wrong; null where nothing is wrong, or where nobody knows.</summary>
    public required Instant? Began { get; init; }

    /// <summary>Names of checks in causes.json, in the order that a good operator takes.</summary>
    public required IReadOnlyList<string> Checks { get; init; }

    /// <summary>What the trainee is told at the start: one sentence, without the answer.</summary>
    public required string Summary { get; init; }

    public required CaseOrigin Made { get; init; }

    /// <summary>From here on a trainee watches. What lies before only teaches the rules what is usual, and can be played at once; null: watched from the beginning.</summary>
    public Instant? WatchFrom { get; init; }

    /// <summary>Markdown for the debrief: what happened, what the data showed when, what to learn.</summary>
    public required string Notes { get; init; }

    /// <summary>Opens the recording's bytes from their beginning, plain or packed by gzip; the caller closes them.</summary>
    public required Func<Stream> OpenRecording { get; init; }

    public bool IsNothingWrong => Causes.Count == 0;

    /// <summary>Opens the recording for reading event by event; the caller disposes the reader.</summary>
    /// <exception cref="IOException">The recording cannot be read.</exception>
    /// <exception cref="UnauthorizedAccessException">The recording may not be read.</exception>
    public RecordingReader ReadRecording(ChannelTable channels) => new(OpenRecording(), channels);
}
