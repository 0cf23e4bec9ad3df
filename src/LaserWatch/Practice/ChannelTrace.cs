using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>The latest minutes of one channel, sample by sample, for drawing.</summary>
public sealed class ChannelTrace
{
    public static readonly TimeSpan Kept = TimeSpan.FromMinutes(30);

    private readonly Queue<(Instant At, double Value)> _samples = [];

    public Instant LastAt { get; private set; }

    public double Last { get; private set; }

    public void Add(Instant at, double value)
    {
        (LastAt, Last) = (at, value);
        _samples.Enqueue((at, value));
        while (at - _samples.Peek().At > Kept)
            _samples.Dequeue();
    }

    /// <summary>Means of equal spans up to an instant, the oldest first; null where nothing was told.</summary>
    public double?[] Means(Instant until, TimeSpan span, int count)
    {
        var (sums, counts) = (new double[count], new int[count]);
        foreach (var (at, value) in _samples)
        {
            var place = count - 1 - (int)Math.Floor((until - at) / span);
            if (at > until || place < 0)
                continue;
            sums[place] += value;
            counts[place]++;
        }

        return [.. sums.Select((sum, i) => counts[i] == 0 ? (double?)null : sum / counts[i])];
    }
}
