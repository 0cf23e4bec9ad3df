using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>What a person asks of a replay while it plays.</summary>
public abstract record ReplayControl
{
    private ReplayControl()
    {
    }

    public sealed record Hold : ReplayControl;

    public sealed record Go : ReplayControl;

    /// <summary>Holds what plays, lets go what is held.</summary>
    public sealed record HoldOrGo : ReplayControl;

    /// <summary>To the next mark of the recording.</summary>
    public sealed record Next : ReplayControl;

    public sealed record MoveTo(Instant At) : ReplayControl;

    /// <summary>To a time of day (UTC): on the day that is being played, or else on the nearest one that the recording holds it on.</summary>
    public sealed record MoveToTimeOfDay(TimeSpan Time) : ReplayControl;

    /// <param name="By">Negative: back.</param>
    public sealed record MoveBy(TimeSpan By) : ReplayControl;

    public sealed record Pace(double Times) : ReplayControl;

    public sealed record End : ReplayControl;

    /// <summary>Something that could not be understood: it is answered in its turn.</summary>
    public sealed record NotUnderstood(string Why) : ReplayControl;
}
