namespace LaserWatch.Storage;

/// <summary>Samples of one series in time order; a part of two arrays that are used again and again.</summary>
/// <remarks>The array of times may be another column's too: nobody may write to it.</remarks>
internal sealed class SampleColumn
{
    public long[] Times { get; private set; } = [];

    public double[] Values { get; private set; } = [];

    /// <summary>The place of the first.</summary>
    public int Begin { get; private set; }

    /// <summary>The place after the last.</summary>
    public int End { get; private set; }

    public int Count => End - Begin;

    public ReadOnlySpan<long> TimeSpan => Times.AsSpan(Begin, Count);

    public ReadOnlySpan<double> ValueSpan => Values.AsSpan(Begin, Count);

    public void Clear() => Begin = End = 0;

    public void Add(long time, double value)
    {
        if (End == Times.Length || End == Values.Length)
            Grow(End + 1);
        Times[End] = time;
        Values[End++] = value;
    }

    /// <summary>Takes over the times, and gives the room for as many values.</summary>
    public Span<double> Take(long[] times, int count)
    {
        Times = times;
        if (Values.Length < count)
            Values = new double[count];
        (Begin, End) = (0, count);
        return Values.AsSpan(0, count);
    }

    /// <summary>Leaves what lies within the bounds, both included.</summary>
    public void Trim(long first, long last)
    {
        if (Count == 0 || (Times[Begin] >= first && Times[End - 1] <= last))
            return;
        var (begin, end) = (PlaceFrom(first), last == long.MaxValue ? End : PlaceFrom(last + 1));
        (Begin, End) = (begin, Math.Max(begin, end));
    }

    public bool TryFind(long time, out double value)
    {
        var place = TimeSpan.BinarySearch(time);
        value = place < 0 ? 0 : Values[Begin + place];
        return place >= 0;
    }

    /// <summary>Becomes all of both, which have no time in common.</summary>
    public void Merge(SampleColumn one, SampleColumn other)
    {
        Clear();
        var (i, j) = (one.Begin, other.Begin);
        while (i < one.End || j < other.End)
        {
            if (j == other.End || (i < one.End && one.Times[i] < other.Times[j]))
                Add(one.Times[i], one.Values[i++]);
            else
                Add(other.Times[j], other.Values[j++]);
        }
    }

    /// <summary>The sums of the minutes, in time order.</summary>
    public void SumMinutes(List<(long Minute, RollUpSum Sum)> into)
    {
        for (var from = Begin; from < End;)
        {
            var minute = TimeGrid.MinuteOf(new(Times[from]));
            var last = TimeGrid.LastOfMinute(minute);
            var to = from + 1;
            while (to < End && Times[to] <= last)
                to++;
            into.Add((minute, RollUpSum.Of(Values.AsSpan(from, to - from))));
            from = to;
        }
    }

    /// <summary>Where the first stands that is not before the time; behind the last where all are.</summary>
    public static int PlaceFrom(ReadOnlySpan<long> times, long time)
    {
        var place = times.BinarySearch(time);
        return place < 0 ? ~place : place;
    }

    private int PlaceFrom(long time) => Begin + PlaceFrom(TimeSpan, time);

    private void Grow(int least)
    {
        var size = Math.Max(Math.Max(1024, 2 * End), least);
        Times = Grown(Times, size);
        Values = Grown(Values, size);
    }

    private T[] Grown<T>(T[] array, int size)
    {
        var grown = new T[size];
        Array.Copy(array, grown, End);
        return grown;
    }
}
