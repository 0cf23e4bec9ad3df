using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>The latest value of one channel, and until when it may be taken to hold.</summary>
/// <remarks>
/// A sample counts until the next, at most so many times the channel's usual interval: beyond, nothing is known. The usual interval is the
/// median of sixteen intervals, renewed every sixteen samples, so it depends on the samples alone and not on how they were read.
/// </remarks>
internal sealed class HeldChannel(SensorFaultOptions options, PlausibleRange? plausible, double leastHoldSeconds)
{
    private const int Renewed = 16;
    private const double LongestHoldSeconds = 900;

    private readonly long[] _intervals = new long[Renewed];
    private readonly long _leastHold = (long)(Math.Max(options.SilentAtLeastSeconds, leastHoldSeconds) * 1e9);
    private readonly double _from = plausible?.From ?? double.MinValue;
    private readonly double _to = plausible?.To ?? double.MaxValue;
    private long _lastAt;
    private long _lastInterval;
    private int _alike;
    private long _hold;

    public double Value { get; private set; }

    /// <summary>The end of what the latest sample tells, ns since 1970; before any, or where it could not be believed, the least there is.</summary>
    public long Until { get; private set; } = long.MinValue;

    public long Samples { get; private set; }

    /// <summary>Samples outside what the instrument can say when nothing is broken: they tell nothing.</summary>
    public long Implausible { get; private set; }

    /// <summary>Median seconds from one sample to the next; 0 before there were two.</summary>
    public double UsualSeconds { get; private set; }

    public void Take(long at, double value)
    {
        if (Samples++ == 0)
            _hold = _leastHold;
        else
            Follow(at - _lastAt);
        _lastAt = at;
        if (!(value >= _from && value <= _to))
        {
            Implausible++;
            Until = long.MinValue;
            return;
        }

        Value = value;
        Until = at + _hold;
    }

    /// <summary>Minds the interval before the newest sample.</summary>
    private void Follow(long interval)
    {
        // A steady sensor's have all been one, and were renewed since: nothing changes.
        if (interval == _lastInterval && _alike >= 2 * Renewed)
            return;
        _alike = interval == _lastInterval ? _alike + 1 : 1;
        _lastInterval = interval;
        var before = Samples - 2;
        _intervals[(int)(before % Renewed)] = interval;
        if (before + 1 < Renewed || (before + 1) % Renewed == 0)
            Renew((int)Math.Min(before + 1, Renewed));
    }

    private void Renew(int count)
    {
        UsualSeconds = (_alike >= count ? _lastInterval : Median(_intervals.AsSpan(0, count))) / 1e9;
        _hold = Math.Max(_leastHold, (long)(Math.Min(LongestHoldSeconds, options.SilentIntervals * UsualSeconds) * 1e9));
    }

    private static long Median(ReadOnlySpan<long> intervals)
    {
        Span<long> sorted = stackalloc long[Renewed];
        sorted = sorted[..intervals.Length];
        intervals.CopyTo(sorted);
        sorted.Sort();
        return sorted[sorted.Length / 2];
    }
}
