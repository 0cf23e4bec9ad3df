using System.Buffers;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Columns of several channels as blocks of samples in time order, at equal times by <see cref="Channel.Index"/>.</summary>
/// <remarks>Columns with the same times, the common case of sensors read together, go side by side without comparing their times one by one.</remarks>
internal sealed class ColumnMerge : IDisposable
{
    private const int BlockSamples = 8192;
    private const int RowsAtOnce = 1024;

    // Emptier tables take longer to walk through than the samples in them.
    private const int LeastFilled = 3;

    private readonly int _blockSize;
    private Sample[] _block = [];
    private readonly List<double[]> _columns = [];
    private long[] _times = [];
    private Channel[] _channels = [];
    private readonly List<Member> _members = [];
    private readonly List<Group> _groups = [];
    private int _memberCount;
    private int _groupCount;

    public ColumnMerge(int mostColumns) => _blockSize = Math.Max(BlockSamples, 4 * mostColumns);

    /// <summary>The channels share so many of their times that <see cref="NextMoments"/> serves better than <see cref="NextBlock"/>. To be asked before either.</summary>
    public bool IsReadTogether
    {
        get
        {
            var (rows, samples) = (0L, 0L);
            for (var i = 0; i < _groupCount; i++)
            {
                rows += _groups[i].Rows;
                samples += (long)_groups[i].Rows * _groups[i].Columns;
            }

            return rows * _memberCount <= samples * LeastFilled;
        }
    }

    public void Begin() => _memberCount = _groupCount = 0;

    /// <summary>What was given is good no longer.</summary>
    public void Dispose()
    {
        if (_block.Length > 0)
            ArrayPool<Sample>.Shared.Return(_block);
        _block = [];
    }

    /// <summary>Takes a column that is not empty; they come by <see cref="Channel.Index"/>.</summary>
    public void Add(Channel channel, SampleColumn column)
    {
        var group = FindGroup(column);
        if (_memberCount == _members.Count)
            _members.Add(new Member());
        var member = _members[_memberCount++];
        member.Channel = channel;
        member.Group = group;
        group.Add(channel, column, _memberCount - 1);
    }

    /// <summary>The next samples, none at the end; good until the next call.</summary>
    public ReadOnlyMemory<Sample> NextBlock()
    {
        if (_block.Length == 0)
            _block = ArrayPool<Sample>.Shared.Rent(_blockSize);
        var count = 0;
        while (_groupCount > 0 && count + _memberCount <= _block.Length)
        {
            var first = FindFirst(out var next, out var alone);
            count = alone ? first.Emit(_block, count, next) : EmitTogether(first.Time, count);
            if (first.IsEmpty || !alone)
                DropEmpty();
        }

        return _block.AsMemory(0, count);
    }

    /// <summary>The next samples as moments, none at the end; good until the next call.</summary>
    public SampleStretch NextMoments()
    {
        if (_groupCount == 0)
            return default;
        NameChannels();
        // One that is left over where others have ended is not all there is.
        if (_groupCount == 1 && _groups[0].Columns == _memberCount && _groups[0].AsTheyLie(_channels) is { Count: > 0 } lying)
        {
            DropEmpty();
            return new SampleStretch(default, lying, lying.Count * _memberCount);
        }

        while (_columns.Count < _memberCount)
            _columns.Add(new double[RowsAtOnce]);
        for (var i = 0; i < _memberCount; i++)
            _columns[i].AsSpan().Fill(double.NaN);
        if (_times.Length == 0)
            _times = new long[RowsAtOnce];
        var (rows, samples) = (0, 0);
        while (_groupCount > 0 && rows < RowsAtOnce)
            samples += FillRow(rows++);
        return new SampleStretch(default, new Moments(_channels, _times, [.. _columns], 0, rows), samples);
    }

    private void NameChannels()
    {
        for (var i = 0; i < _memberCount; i++)
        {
            if (_channels.Length == _memberCount && ReferenceEquals(_channels[i], _members[i].Channel))
                continue;
            _channels = [.. _members.Take(_memberCount).Select(member => member.Channel)];
            return;
        }
    }

    private int FillRow(int row)
    {
        var time = _groups[0].Time;
        for (var i = 1; i < _groupCount; i++)
            time = Math.Min(time, _groups[i].Time);
        _times[row] = time;
        var (samples, isAnyEmpty) = (0, false);
        for (var i = 0; i < _groupCount; i++)
        {
            var group = _groups[i];
            if (group.Time != time)
                continue;
            samples += group.Fill(_columns, row);
            isAnyEmpty |= group.IsEmpty;
        }

        if (isAnyEmpty)
            DropEmpty();
        return samples;
    }

    private Group FindGroup(SampleColumn column)
    {
        for (var i = 0; i < _groupCount; i++)
        {
            if (_groups[i].HasTimesOf(column))
                return _groups[i];
        }

        if (_groupCount == _groups.Count)
            _groups.Add(new Group());
        var group = _groups[_groupCount++];
        group.Begin(column);
        return group;
    }

    /// <summary>The group whose turn it is, the time of the next after it, and whether no other has the same time.</summary>
    private Group FindFirst(out long next, out bool alone)
    {
        var first = _groups[0];
        next = long.MaxValue; // after all: what is read ends before it
        alone = true;
        for (var i = 1; i < _groupCount; i++)
        {
            var group = _groups[i];
            if (group.Time < first.Time)
            {
                next = first.Time;
                first = group;
                alone = true;
            }
            else if (group.Time == first.Time)
            {
                alone = false;
            }
            else
            {
                next = Math.Min(next, group.Time);
            }
        }

        return first;
    }

    private int EmitTogether(long time, int count)
    {
        for (var i = 0; i < _memberCount; i++)
        {
            var member = _members[i];
            if (!member.Group.IsEmpty && member.Group.Time == time)
                _block[count++] = new Sample(member.Channel, new Instant(time), member.Group.NextValueOf(member.Channel));
        }

        for (var i = 0; i < _groupCount; i++)
        {
            if (_groups[i].Time == time)
                _groups[i].Advance();
        }

        return count;
    }

    private void DropEmpty()
    {
        for (var i = 0; i < _groupCount;)
        {
            if (!_groups[i].IsEmpty)
            {
                i++;
                continue;
            }

            // The places in the list behind the count are used again by the next step.
            (_groups[i], _groups[_groupCount - 1]) = (_groups[_groupCount - 1], _groups[i]);
            _groupCount--;
        }
    }

    private sealed class Member
    {
        public Channel Channel = null!;
        public Group Group = null!;
    }

    private sealed class Group
    {
        private readonly List<(Channel Channel, double[] Values, int Offset, int Place)> _columns = [];
        private long[] _times = [];
        private int _begin;
        private int _at;
        private int _end;
        private int _turn;

        public long Time => _times[_at];

        public bool IsEmpty => _at == _end;

        public int Rows => _end - _at;

        public int Columns => _columns.Count;

        public void Begin(SampleColumn column)
        {
            _columns.Clear();
            _times = column.Times;
            (_begin, _at, _end, _turn) = (column.Begin, column.Begin, column.End, 0);
        }

        public bool HasTimesOf(SampleColumn column) =>
            ReferenceEquals(_times, column.Times) ? _begin == column.Begin && _end == column.End
                : _times.AsSpan(_begin, _end - _begin).SequenceEqual(column.TimeSpan);

        public void Add(Channel channel, SampleColumn column, int place) => _columns.Add((channel, column.Values, column.Begin - _begin, place));

        /// <summary>The next rows where they are, without a copy; none where the columns do not begin at one place.</summary>
        public Moments AsTheyLie(Channel[] channels)
        {
            var columns = new double[_columns.Count][];
            foreach (var (_, values, offset, place) in _columns)
            {
                if (offset != 0)
                    return default;
                columns[place] = values;
            }

            var (at, count) = (_at, Math.Min(_end - _at, Moments.MostRows));
            _at += count;
            return new Moments(channels, _times, columns, at, count);
        }

        /// <summary>Writes the next row, each value into its column, and says how many they are.</summary>
        public int Fill(List<double[]> columns, int row)
        {
            foreach (ref readonly var column in System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_columns))
                columns[column.Place][row] = column.Values[_at + column.Offset];
            _at++;
            return _columns.Count;
        }

        public double NextValueOf(Channel channel)
        {
            // They are asked for in the order in which they stand here.
            var (asked, values, offset, _) = _columns[_turn++];
            System.Diagnostics.Debug.Assert(ReferenceEquals(asked, channel), "The columns are out of order.");
            return values[_at + offset];
        }

        public void Advance()
        {
            _at++;
            _turn = 0;
        }

        /// <summary>Writes all columns of the times before <paramref name="next"/>, as far as there is room.</summary>
        public int Emit(Sample[] block, int count, long next)
        {
            var columns = System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_columns);
            var end = Math.Min(_end, _at + ((block.Length - count) / columns.Length));
            var times = _times;
            var at = _at;
            for (; at < end && times[at] < next; at++)
            {
                var time = new Instant(times[at]);
                foreach (ref readonly var column in columns)
                    block[count++] = new Sample(column.Channel, time, column.Values[at + column.Offset]);
            }

            _at = at;
            return count;
        }
    }
}
