using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>The latest minutes of one channel, sample by sample, for drawing.</summary>
public sealed class ChannelTrace
{
    public static readonly TimeSpan Kept = TimeSpan.FromMinutes(30);

    /// <summary>A sensor that speaks less often than a column is wide still draws a line.</summary>
    public static readonly TimeSpan Held = TimeSpan.FromSeconds(30);

    private readonly Queue<(Instant At, double Value)> _samples = [];

    public Instant LastAt { get; private set; }

    public double Last { get; private set; }

    /// <param name="isDrawn">False: it is the latest value, and belongs in no picture.</param>
    public void Add(Instant at, double value, bool isDrawn = true)
    {
        (LastAt, Last) = (at, value);
        if (!isDrawn)
            return;
        _samples.Enqueue((at, value));
        while (at - _samples.Peek().At > Kept)
            _samples.Dequeue();
    }

    /// <summary>Means of equal spans up to an instant, the oldest first; null where nothing was told for longer than <see cref="Held"/>.</summary>
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

        var means = new double?[count];
        var last = -count;
        for (var i = 0; i < count; i++)
        {
            if (counts[i] > 0)
                (means[i], last) = (sums[i] / counts[i], i);
            else if (last >= 0 && (i - last) * span <= Held)
                means[i] = means[last];
        }

        return means;
    }
}
