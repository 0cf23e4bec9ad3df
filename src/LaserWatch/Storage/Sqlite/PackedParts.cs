using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Unpacks hours in which late samples are looked for, and keeps of each series a part: about the last that was looked for, and what comes next.</summary>
/// <remarks>
/// Late samples mostly come in time order, of a whole shop a few of each series in a commit: to unpack the whole hour of each at every commit was most of the work. All parts
/// together take 4 MB at most: where the places run out before the parts were of use, there are twice as many of half the length from then on. Not safe for several threads.
/// </remarks>
internal sealed class PackedParts
{
    /// <summary>Samples in all parts together; 16 bytes each.</summary>
    public const int MostSamples = 1 << 18;

    /// <summary>Samples in a part at first: an hour at one a second fits.</summary>
    public const int MostLength = 1 << 12;

    /// <summary>Shorter parts would hardly reach to the next commit.</summary>
    public const int LeastLength = 1 << 4;

    /// <summary>One of so many of a part comes before what was looked for: what comes next may have been overtaken by it.</summary>
    private const int ShareBefore = 8;

    /// <summary>Where a part was asked so often before the places ran out, one series after the other comes, and none is needed again.</summary>
    private const int OfUse = 8;

    private readonly SealedHours _hours;
    private readonly int _mostSamples;
    private readonly int _mostLength;
    private readonly SampleColumn _hour = new();
    private readonly Stack<int> _returned = [];
    private long[] _times = [];
    private double[] _values = [];
    private int _length;
    private int _taken;
    private int _round;
    private long _answered;
    private bool _isUsed;

    public PackedParts(SealedHours hours, int mostSamples = MostSamples, int mostLength = MostLength)
    {
        _hours = hours;
        _mostSamples = mostSamples;
        (_mostLength, _length) = (mostLength, mostLength);
    }

    /// <summary>What the packed hour has, at least from the first to the last time given; good until the next call. Nothing where the hour is not packed, or damaged.</summary>
    /// <param name="kept">What the series has here, as the last call left it; <c>default</c> at first.</param>
    /// <remarks>Wants <see cref="SealedHours.Begin"/> to have been called in this transaction.</remarks>
    public Part Find(ref Place kept, long seriesId, long hour, long first, long last)
    {
        _isUsed = true;
        if (Holds(kept) && first >= kept.First && last <= kept.Last)
        {
            _answered++;
            return PartOf(kept);
        }

        try
        {
            _hours.TryRead(seriesId, hour, _hour);
        }
        catch (StoreException)
        {
            // Damaged. To refuse the samples would hold up all that comes after them; upkeep and readers say that the hour is damaged.
            _hour.Clear();
        }

        Keep(ref kept, hour, first, last, isGoingBack: Holds(kept) && first < kept.First);
        return new(_hour.TimeSpan, _hour.ValueSpan);
    }

    /// <summary>Lets the part of a series go: to be called where its hours were packed anew, or deleted.</summary>
    public void Return(ref Place kept)
    {
        if (HasRoom(kept))
            _returned.Push(kept.Number);
        kept = default;
    }

    /// <summary>Lets all parts go. Of an hour that had nothing it stays known, until the <see cref="Place"/> is dropped too.</summary>
    public void Forget()
    {
        _round++;
        _taken = 0;
        _answered = 0;
        _returned.Clear();
    }

    /// <summary>Lets parts and memory go where nothing was looked for since the last call.</summary>
    public void Rest()
    {
        if (!_isUsed)
        {
            Forget();
            (_times, _values, _length) = ([], [], _mostLength);
        }

        _isUsed = false;
    }

    private bool Holds(in Place kept) => kept.IsKnown && (kept.Count == 0 || HasRoom(kept));

    private bool HasRoom(in Place kept) => kept.HasNumber && kept.Round == _round;

    private Part PartOf(in Place kept)
    {
        if (kept.Count == 0)
            return default;
        var begin = kept.Number * _length;
        return new(_times.AsSpan(begin, kept.Count), _values.AsSpan(begin, kept.Count));
    }

    private void Keep(ref Place kept, long hour, long first, long last, bool isGoingBack)
    {
        var times = _hour.TimeSpan;
        if (times.Length > 0 && !HasRoom(kept))
            (kept.Number, kept.HasNumber, kept.Round) = (Take(), true, _round); // may change the length

        var before = _length / ShareBefore;
        var begin = isGoingBack ? SampleColumn.PlaceFrom(times, first) + before - _length : SampleColumn.PlaceFrom(times, last) - before;
        begin = Math.Clamp(begin, 0, Math.Max(0, times.Length - _length));
        var end = Math.Min(times.Length, begin + _length);
        kept.IsKnown = true;
        kept.Count = end - begin;
        kept.First = begin == 0 ? TimeGrid.FirstOfHour(hour) : times[begin - 1] + 1;
        kept.Last = end == times.Length ? TimeGrid.LastOfHour(hour) : times[end] - 1;
        if (kept.Count == 0)
            return;
        times[begin..end].CopyTo(_times.AsSpan(kept.Number * _length));
        _hour.ValueSpan[begin..end].CopyTo(_values.AsSpan(kept.Number * _length));
    }

    private int Take()
    {
        if (_times.Length == 0)
            (_times, _values) = (new long[_mostSamples], new double[_mostSamples]);
        if (_returned.TryPop(out var number))
            return number;
        if ((_taken + 1) * _length > _mostSamples)
        {
            if (_answered < OfUse * (long)_taken)
                _length = Math.Max(LeastLength, _length / 2);
            Forget();
        }

        return _taken++;
    }

    /// <summary>All samples that a packed hour has between two times.</summary>
    public readonly ref struct Part(ReadOnlySpan<long> times, ReadOnlySpan<double> values)
    {
        private readonly ReadOnlySpan<long> _times = times;
        private readonly ReadOnlySpan<double> _values = values;

        public bool TryFind(long time, out double value)
        {
            var place = _times.BinarySearch(time);
            value = place < 0 ? 0 : _values[place];
            return place >= 0;
        }
    }

    /// <summary>Where the part of a series stands and what times it covers; <c>default</c>: nowhere.</summary>
    public struct Place
    {
        internal long First;
        internal long Last;
        internal int Count;
        internal int Number;
        internal int Round;
        internal bool HasNumber;

        /// <summary>Of an hour that has none, this needs no room.</summary>
        internal bool IsKnown;
    }
}
