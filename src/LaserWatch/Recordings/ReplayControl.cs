using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>What a person asks of a replay while it plays.</summary>
public abstract record ReplayControl
{
    private ReplayControl()
    {
    }

    public sealed record Pause : ReplayControl;

    public sealed record Resume : ReplayControl;

    /// <summary>Pauses what plays, resumes what is paused.</summary>
    public sealed record Toggle : ReplayControl;

    /// <summary>To the next mark of the recording.</summary>
    public sealed record Next : ReplayControl;

    public sealed record SeekTo(Instant At) : ReplayControl;

    /// <summary>To a time of day (UTC): on the day that is being played, or else on the nearest one that the recording holds it on.</summary>
    public sealed record SeekToTimeOfDay(TimeSpan Time) : ReplayControl;

    /// <param name="By">Negative: back.</param>
    public sealed record SeekBy(TimeSpan By) : ReplayControl;

    public sealed record Speed(double Times) : ReplayControl;

    public sealed record Faster : ReplayControl;

    public sealed record Slower : ReplayControl;

    public sealed record Stop : ReplayControl;

    /// <summary>Something that could not be understood: it is answered in its turn.</summary>
    public sealed record NotUnderstood(string Why) : ReplayControl;
}
