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

    /// <summary>After so many late samples of one channel and no fresh one, its clock has been set back: begin anew from there.</summary>
    private const int LateBeforeClockIsDoubted = 300;

    private const int MostHeld = 1 << 16;

    private Instant?[] _newest = new Instant?[Channel.Canonical.Count];
    private int[] _lateInARow = new int[Channel.Canonical.Count];
    private Held[] _held = new Held[64];
    private int _first;
    private int _count;
    private Instant _releasedTo = Instant.MinValue;

    /// <summary>The newest sample time of any channel; null before the first.</summary>
    public Instant? Newest { get; private set; }

    public Admission Admit(Channel channel, Instant at, double value)
    {
        if (channel.Index >= _newest.Length)
        {
            Array.Resize(ref _newest, Math.Max(channel.Index + 1, _newest.Length * 2));
            Array.Resize(ref _lateInARow, _newest.Length);
        }

        ref var newest = ref _newest[channel.Index];
        if (newest is null || at > newest)
        {
            newest = at;
            _lateInARow[channel.Index] = 0;
            if (Newest is null || at > Newest)
                Newest = at;
            Hold(channel, at, value);
            return Admission.Fresh;
        }

        if (at == newest)
            return Admission.Duplicate;

        if (newest.Value - at > Window)
        {
            if (++_lateInARow[channel.Index] < LateBeforeClockIsDoubted)
                return Admission.TooLate;
            newest = at;
            Newest = at;
            _releasedTo = at;
            _lateInARow[channel.Index] = 0;
            Hold(channel, at, value);
            return Admission.Fresh;
        }

        if (IsHeld(channel, at))
            return Admission.Duplicate;
        Hold(channel, at, value);
        return Admission.Late;
    }

    /// <summary>The next sample whose turn has come: at least a window behind the newest, or all of them.</summary>
    public bool TryRelease(bool all, out Sample sample)
    {
        if (_count == 0 || (!all && _count < MostHeld && Newest!.Value - _held[_first].At < Window))
        {
            sample = default;
            return false;
        }

        ref var held = ref _held[_first];
        sample = new Sample(held.Channel, held.At, held.Value);
        held = default;
        _first = (_first + 1) & (_held.Length - 1);
        _count--;
        if (sample.At > _releasedTo)
            _releasedTo = sample.At;
        return true;
    }

    public void Visit(StateVisitor state)
    {
        for (var i = 0; i < Channel.Canonical.Count; i++)
        {
            state.Walk(ref _newest[i]);
            state.Walk(ref _lateInARow[i]);
        }

        var newest = Newest;
        state.Walk(ref newest);
        Newest = newest;
        state.Walk(ref _releasedTo);
        var count = _count;
        state.Walk(ref count);
        if (state.IsLoading)
        {
            if (count is < 0 or > MostHeld)
                StateVisitor.Refuse();
            _first = 0;
            _count = 0;
            _held = new Held[(int)System.Numerics.BitOperations.RoundUpToPowerOf2((uint)Math.Max(64, count + 1))];
        }

        for (var i = 0; i < count; i++)
        {
            var held = state.IsLoading ? default : _held[(_first + i) & (_held.Length - 1)];
            var index = held.Channel?.Index ?? 0;
            state.Walk(ref index);
            state.Walk(ref held.At);
            state.Walk(ref held.Value);
            if (!state.IsLoading)
                continue;
            if (index < 0 || index >= Channel.Canonical.Count)
                StateVisitor.Refuse();
            held.Channel = Channel.Canonical[index];
            _held[_count++] = held;
        }
    }

    private bool IsHeld(Channel channel, Instant at)
    {
        for (var i = _count - 1; i >= 0; i--)
        {
            ref var held = ref _held[(_first + i) & (_held.Length - 1)];
            if (held.At < at)
                return false;
            if (held.At == at && held.Channel == channel)
                return true;
        }

        return false;
    }

    // Only the canonical channels are judged in order.
    private void Hold(Channel channel, Instant at, double value)
    {
        if (!channel.IsCanonical || at < _releasedTo)
            return;
        if (_count == _held.Length)
            Grow();
        var place = _count;
        var rank = Rank(channel);
        while (place > 0 && IsAfter(_held[(_first + place - 1) & (_held.Length - 1)], at, rank))
        {
            _held[(_first + place) & (_held.Length - 1)] = _held[(_first + place - 1) & (_held.Length - 1)];
            place--;
        }

        _held[(_first + place) & (_held.Length - 1)] = new Held { At = at, Channel = channel, Value = value };
        _count++;
    }

    private static bool IsAfter(in Held held, Instant at, int rank) =>
        held.At > at || (held.At == at && Rank(held.Channel) > rank);

    // Of one instant, what says whether the beam is on comes before what the beam does.
    private static int Rank(Channel channel) => channel == Channel.Lasing ? 0 : channel == Channel.Power ? 1 : 2;

    private void Grow()
    {
        var larger = new Held[_held.Length * 2];
        for (var i = 0; i < _count; i++)
            larger[i] = _held[(_first + i) & (_held.Length - 1)];
        _held = larger;
        _first = 0;
    }

    private struct Held
    {
        public Instant At;
        public Channel Channel;
        public double Value;
    }
}
