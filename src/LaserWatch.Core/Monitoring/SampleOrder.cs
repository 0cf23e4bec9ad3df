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

    private const int MostHeld = 1 << 15;

    private PerChannel[] _channels = new PerChannel[Channel.Canonical.Count];
    private HeldRow[] _held = new HeldRow[16];
    private int _first;
    private int _count;
    private bool _hasNewest;
    private Instant _newest;
    private Instant _releasedTo = Instant.MinValue;

    /// <summary>The newest sample time of any channel; null before the first.</summary>
    public Instant? Newest => _hasNewest ? _newest : null;

    /// <param name="channel">The channel's index.</param>
    public Admission Admit(int channel, Instant at, double value)
    {
        if (channel >= _channels.Length)
            Array.Resize(ref _channels, Math.Max(channel + 1, _channels.Length * 2));

        ref var own = ref _channels[channel];
        if (!own.IsHeard || at > own.Newest)
        {
            own = new PerChannel { Newest = at, IsHeard = true };
            if (at > _newest || !_hasNewest)
                (_hasNewest, _newest) = (true, at);
            Hold(channel, at, value);
            return Admission.Fresh;
        }

        return AdmitLate(ref own, channel, at, value);
    }

    /// <summary>Lets go those whose turn has come, being a window behind the newest, or all. Not always all of them at once: until there are none.</summary>
    /// <returns>In time order, an instant once; good until the next is admitted.</returns>
    public ReadOnlySpan<HeldRow> Release(bool all)
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

    public void Visit(StateVisitor state)
    {
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
            _held = new HeldRow[(int)BitOperations.RoundUpToPowerOf2((uint)Math.Max(16, count + 1))];
        }

        for (var i = 0; i < count; i++)
        {
            var row = state.IsLoading ? default : Row(i);
            row.Visit(state);
            if (state.IsLoading)
                _held[_count++] = row;
        }
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
            return Admission.Fresh;
        }

        if (IsHeld(channel, at))
            return Admission.Duplicate;
        Hold(channel, at, value);
        return Admission.Late;
    }

    private bool IsHeld(int channel, Instant at)
    {
        var place = PlaceAfter(at);
        return place > 0 && Row(place - 1).At == at && (Row(place - 1).Channels & (1u << channel)) != 0;
    }

    // Only the canonical channels are judged in order.
    private void Hold(int channel, Instant at, double value)
    {
        if (channel >= Channel.CanonicalCount || at < _releasedTo)
            return;
        var place = PlaceAfter(at);
        if (place == 0 || Row(place - 1).At != at)
        {
            if (_count == _held.Length)
                Grow();
            for (var i = _count++; i > place; i--)
                Row(i) = Row(i - 1);
            ref var made = ref Row(place++);
            (made.At, made.Channels) = (at, 0);
        }

        ref var row = ref Row(place - 1);
        row.Channels |= 1u << channel;
        row.Keep(channel, value);
    }

    // Nearly all come in order, and there is nothing to look for.
    private int PlaceAfter(Instant at)
    {
        var place = _count;
        while (place > 0 && Row(place - 1).At > at)
            place--;
        return place;
    }

    private ref HeldRow Row(int place) => ref _held[(_first + place) & (_held.Length - 1)];

    private void Grow()
    {
        var larger = new HeldRow[_held.Length * 2];
        for (var i = 0; i < _count; i++)
            larger[i] = Row(i);
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

/// <summary>The samples of one instant that wait for their turn.</summary>
/// <remarks>Of the channels that nothing judges in order it is kept that they spoke, and not what.</remarks>
internal struct HeldRow
{
    /// <summary>The channels whose values are kept, by canonical index.</summary>
    public const uint Kept =
        (1u << CanonicalIndex.TubeCurrent) | (1u << CanonicalIndex.Power) | (1u << CanonicalIndex.Lasing) | (1u << CanonicalIndex.CoolantIn);

    public Instant At;

    /// <summary>The channels that spoke, by canonical index.</summary>
    public uint Channels;
    public double Lasing;
    public double Power;
    public double TubeCurrent;
    public double CoolantIn;

    /// <param name="channel">A canonical channel's index.</param>
    public void Keep(int channel, double value)
    {
        if (channel == CanonicalIndex.TubeCurrent)
            TubeCurrent = value;
        else if (channel == CanonicalIndex.Power)
            Power = value;
        else if (channel == CanonicalIndex.Lasing)
            Lasing = value;
        else if (channel == CanonicalIndex.CoolantIn)
            CoolantIn = value;
    }

    public void Visit(StateVisitor state)
    {
        var channels = (int)Channels;
        state.Walk(ref At);
        state.Walk(ref channels);
        if (channels is <= 0 or >= 1 << Channel.CanonicalCount)
            StateVisitor.Refuse();
        Channels = (uint)channels;
        // What was kept of a channel that did not speak is an earlier row's.
        VisitKept(state, CanonicalIndex.Lasing, ref Lasing);
        VisitKept(state, CanonicalIndex.Power, ref Power);
        VisitKept(state, CanonicalIndex.TubeCurrent, ref TubeCurrent);
        VisitKept(state, CanonicalIndex.CoolantIn, ref CoolantIn);
    }

    private readonly void VisitKept(StateVisitor state, int channel, ref double value)
    {
        if ((Channels & (1u << channel)) != 0)
            state.Walk(ref value);
    }
}
