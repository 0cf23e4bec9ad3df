using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>The recording's time as the trainee lived through it: hours in which nothing was recorded are leapt over and count for nothing.</summary>
public sealed class PlayedTime(Instant start)
{
    private readonly List<(Instant From, Instant To)> _leaps = [];

    public Instant Start => start;

    public void Leap(Instant from, Instant to) => _leaps.Add((from, to));

    /// <summary>How long the trainee had watched at an instant; zero for what lies before the start.</summary>
    public TimeSpan At(Instant at)
    {
        if (at <= start)
            return TimeSpan.Zero;
        var length = at - start;
        foreach (var (from, to) in _leaps)
        {
            if (at > from)
                length -= (at < to ? at : to) - from;
        }

        return length;
    }

    public TimeSpan Between(Instant from, Instant to) => At(to) - At(from);
}
