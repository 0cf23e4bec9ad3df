using LaserWatch.Telemetry;

namespace LaserWatch.Exports;

/// <summary>Some rows of a machine's samples, column by column. Reused by its owner: good until the next are asked for.</summary>
internal sealed class SampleRows(IReadOnlyList<Channel> channels, int capacity)
{
    private readonly long[] _times = new long[capacity];
    private readonly string?[] _jobs = new string?[capacity];
    private readonly double?[][] _values = [.. channels.Select(_ => new double?[capacity])];

    public int Count { get; private set; }

    public bool IsFull => Count == _times.Length;

    /// <summary>Nanoseconds since 1970 UTC, rising.</summary>
    public ReadOnlyMemory<long> Times => _times.AsMemory(0, Count);

    /// <summary>The job under way; null where none was, or nobody knows.</summary>
    public ReadOnlySpan<string?> Jobs => _jobs.AsSpan(0, Count);

    /// <summary>The values of the channel at a place in the list of channels; null where it has no sample in the row.</summary>
    public ReadOnlyMemory<double?> Values(int place) => _values[place].AsMemory(0, Count);

    public void Clear() => Count = 0;

    public void Add(Instant at, string? job)
    {
        _times[Count] = at.UnixNanoseconds;
        _jobs[Count] = job;
        foreach (var column in _values)
            column[Count] = null;
        Count++;
    }

    /// <summary>Sets a value of the newest row.</summary>
    public void Set(int place, double value) => _values[place][Count - 1] = value;
}
