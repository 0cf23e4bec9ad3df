using System.Numerics;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>Where a sample stands in the order of its channel.</summary>
public enum Admission
{
    /// <summary>Newer than all of its channel so far: judged at once.</summary>
    Fresh,

    /// <summary>Older than the newest, by no more than the window: put in its place, for what is judged in order.</summary>
    Late,

    /// <summary>The channel has spoken for this instant already.</summary>
    Duplicate,

    /// <summary>Older than the window: not judged.</summary>
    TooLate,
}

/// <summary>Puts a machine's samples in time order, by holding them for the length of the window.</summary>
/// <remarks>
/// What must be said at once is judged as it comes (<see cref="Admission.Fresh"/>); what is judged over minutes comes out of
/// here in order, late by the window. Bounded: when full, the oldest are let go early.
/// </remarks>
internal sealed class SampleOrder
{
    /// <summary>How far out of order a sample may come and still be put right.</summary>
    public static readonly TimeSpan Window = TimeSpan.FromSeconds(5);

    private const long WindowNanoseconds = 5_000_000_000;

    /// <summary>After so many late samples of one channel and no fresh one, its clock has been set back: begin anew from there.</summary>
    private const int LateBeforeClockIsDoubted = 300;

    private const int MostHeld = 1 << 16;

    private PerChannel[] _channels = new PerChannel[Channel.Canonical.Count];
    private HeldSample[] _held = new HeldSample[64];
    private int _first;
    private int _count;
    private bool _hasNewest;
    private Instant _newest;

    // The time of the last that is held; where it was released or none was, any before what comes.
    private Instant _heldTo = Instant.MinValue;
    private Instant _releasedTo = Instant.MinValue;

    // No time known here is later: what comes after it is fresh, whatever its channel.
    private Instant _latest = Instant.MinValue;

    // The channels of the latest row, where that is not yet noted for each, and its time: mostly the next row has them all again.
    private uint _row;
    private Instant _rowAt;

    /// <summary>The newest sample time of any channel; null before the first.</summary>
    public Instant? Newest => _hasNewest ? _newest : null;

    /// <summary>Admits values of one instant together where it is newer than all before it: all are fresh then, and stand last.</summary>
    /// <returns>False where they must be admitted one by one; then none of them has been.</returns>
    public bool TryAdmit(Instant at, ReadOnlySpan<ChannelValue> values)
    {
        var held = _held;
        if (at <= _latest || held.Length - _count < values.Length)
            return false;
        var row = 0u;
        var place = _first + _count;
        foreach (ref readonly var one in values)
        {
            var channel = one.Channel.Index;
            if (channel >= Channel.CanonicalCount || (row & (1u << channel)) != 0)
                return false;
            row |= 1u << channel;
            var own = place++;
            if (channel is CanonicalIndex.Lasing or CanonicalIndex.Power)
                own = MakeRoom(own, at, Rank(channel));
            held[own & (held.Length - 1)] = new HeldSample { At = at, Index = channel, Value = one.Value };
        }

        _count = place - _first;
        if ((_row & ~row) != 0)
            NoteRow(_row & ~row);
        (_row, _rowAt) = (row, at);
        (_hasNewest, _newest, _heldTo, _latest) = (true, at, at, at);
        return true;
    }

    /// <param name="channel">The channel's index.</param>
    public Admission Admit(int channel, Instant at, double value)
    {
        if (_row != 0)
            NoteRow(_row);
        if (channel >= _channels.Length)
            Array.Resize(ref _channels, Math.Max(channel + 1, _channels.Length * 2));

        ref var own = ref _channels[channel];
        if (!own.IsHeard || at > own.Newest)
        {
            own = new PerChannel { Newest = at, IsHeard = true };
            if (at > _newest || !_hasNewest)
                (_hasNewest, _newest) = (true, at);
            if (at > _latest)
                _latest = at;
            Hold(channel, at, value);
            return Admission.Fresh;
        }

        return AdmitLate(ref own, channel, at, value);
    }

    /// <summary>Lets go those whose turn has come, being a window behind the newest, or all. Not always all of them at once: until there are none.</summary>
    /// <returns>In time order; good until the next is admitted.</returns>
    public ReadOnlySpan<HeldSample> Release(bool all)
    {
        if (_count == 0)
            return default;
        var stretch = _held.AsSpan(_first, Math.Min(_count, _held.Length - _first));
        var due = all ? stretch.Length : 0;
        while (due < stretch.Length && _newest.UnixNanoseconds - stretch[due].At.UnixNanoseconds >= WindowNanoseconds)
            due++;
        if (due == 0)
        {
            if (_count < MostHeld)
                return default;
            due = 1;
        }

        _first = (_first + due) & (_held.Length - 1);
        _count -= due;
        if (stretch[due - 1].At > _releasedTo)
            _releasedTo = stretch[due - 1].At;
        return stretch[..due];
    }

    /// <summary>From now on all are admitted one by one. What comes of it must be the same.</summary>
    internal void TakeNoShortcut() => _latest = Instant.MaxValue;

    public void Visit(StateVisitor state)
    {
        NoteRow(_row);
        for (var i = 0; i < Channel.Canonical.Count; i++)
        {
            Instant? own = _channels[i].IsHeard ? _channels[i].Newest : null;
            state.Walk(ref own);
            (_channels[i].IsHeard, _channels[i].Newest) = (own.HasValue, own ?? default);
            state.Walk(ref _channels[i].LateInARow);
        }

        var newest = Newest;
        state.Walk(ref newest);
        (_hasNewest, _newest) = (newest.HasValue, newest ?? default);
        state.Walk(ref _releasedTo);
        var count = _count;
        state.Walk(ref count);
        if (state.IsLoading)
        {
            if (count is < 0 or > MostHeld)
                StateVisitor.Refuse();
            _first = 0;
            _count = 0;
            _heldTo = Instant.MinValue;
            _held = new HeldSample[(int)BitOperations.RoundUpToPowerOf2((uint)Math.Max(64, count + 1))];
        }

        for (var i = 0; i < count; i++)
        {
            var held = state.IsLoading ? default : _held[(_first + i) & (_held.Length - 1)];
            state.Walk(ref held.Index);
            state.Walk(ref held.At);
            state.Walk(ref held.Value);
            if (!state.IsLoading)
                continue;
            if (held.Index < 0 || held.Index >= Channel.Canonical.Count)
                StateVisitor.Refuse();
            _held[_count++] = held;
            _heldTo = held.At > _heldTo ? held.At : _heldTo;
        }

        LookForLatest();
    }

    private Admission AdmitLate(ref PerChannel own, int channel, Instant at, double value)
    {
        if (at == own.Newest)
            return Admission.Duplicate;

        if (own.Newest - at > Window)
        {
            if (++own.LateInARow < LateBeforeClockIsDoubted)
                return Admission.TooLate;
            own.Newest = at;
            own.LateInARow = 0;
            _newest = at;
            _releasedTo = at;
            Hold(channel, at, value);
            LookForLatest();
            return Admission.Fresh;
        }

        if (IsHeld(channel, at))
            return Admission.Duplicate;
        Hold(channel, at, value);
        return Admission.Late;
    }

    private bool IsHeld(int channel, Instant at)
    {
        for (var i = _count - 1; i >= 0; i--)
        {
            ref var held = ref _held[(_first + i) & (_held.Length - 1)];
            if (held.At < at)
                return false;
            if (held.At == at && held.Index == channel)
                return true;
        }

        return false;
    }

    // Only the canonical channels are judged in order.
    private void Hold(int channel, Instant at, double value)
    {
        if (channel >= Channel.CanonicalCount || at < _releasedTo)
            return;
        if (_count == _held.Length)
            Grow();
        var held = _held;
        var place = _first + _count;
        // Nearly all stand in order as they come: newer than all that are held, or of the same instant and of no rank before others.
        if (at > _heldTo || (at == _heldTo && channel is not (CanonicalIndex.Lasing or CanonicalIndex.Power)))
        {
            _heldTo = at;
            held[place & (held.Length - 1)] = new HeldSample { At = at, Index = channel, Value = value };
            _count++;
            return;
        }

        place = MakeRoom(place, at, Rank(channel));
        held[place & (held.Length - 1)] = new HeldSample { At = at, Index = channel, Value = value };
        _count++;
    }

    // Moves up all that are to stand after it.
    private int MakeRoom(int place, Instant at, int rank)
    {
        var held = _held;
        while (place > _first && IsAfter(held[(place - 1) & (held.Length - 1)], at, rank))
        {
            held[place & (held.Length - 1)] = held[(place - 1) & (held.Length - 1)];
            place--;
        }

        return place;
    }

    private void NoteRow(uint channels)
    {
        _row &= ~channels;
        for (; channels != 0; channels &= channels - 1)
            _channels[BitOperations.TrailingZeroCount(channels)] = new PerChannel { Newest = _rowAt, IsHeard = true };
    }

    private void LookForLatest()
    {
        _latest = _releasedTo > _heldTo ? _releasedTo : _heldTo;
        if (_newest > _latest)
            _latest = _newest;
        foreach (ref readonly var own in _channels.AsSpan())
        {
            if (own.IsHeard && own.Newest > _latest)
                _latest = own.Newest;
        }
    }

    private static bool IsAfter(in HeldSample held, Instant at, int rank) =>
        held.At > at || (held.At == at && Rank(held.Index) > rank);

    // Of one instant, what says whether the beam is on comes before what the beam does: lasing, power, the rest.
    private static int Rank(int channelIndex) => channelIndex == CanonicalIndex.Lasing ? 0 : channelIndex == CanonicalIndex.Power ? 1 : 2;

    private void Grow()
    {
        var larger = new HeldSample[_held.Length * 2];
        for (var i = 0; i < _count; i++)
            larger[i] = _held[(_first + i) & (_held.Length - 1)];
        _held = larger;
        _first = 0;
    }

    private struct PerChannel
    {
        public Instant Newest;
        public int LateInARow;
        public bool IsHeard;
    }
}

/// <summary>A sample that waits for its turn.</summary>
/// <remarks>By index: a reference in a ring would make the collector look at every sample.</remarks>
internal struct HeldSample
{
    public Instant At;
    public double Value;
    public int Index;
}
