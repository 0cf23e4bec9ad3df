using System.Numerics;
using System.Runtime.CompilerServices;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>Why a channel cannot be believed now. <c>default</c>: nothing against it.</summary>
public enum ChannelFault
{
    None,
    Silent,
    Stuck,
    Implausible,
}

/// <summary>A machine's latest values together, with the run under way.</summary>
/// <remarks>Changed in place by its owner, <see cref="MachineWatch"/>; a rule reads it and keeps nothing of it.</remarks>
public sealed class Reading
{
    // A bit for each canonical channel, at its index; of the faults four.
    private uint _known;
    private uint _good;
    private uint _faulty;
    private ulong _faults;
    private CanonicalChannels _canonical;
    private OtherChannel[] _others = [];

    /// <summary>The newest instant told by a sample or a tick.</summary>
    public Instant At { get; internal set; }

    public Run? Run { get; internal set; }

    /// <summary>Since when the beam has been as <see cref="BeamOn"/> says.</summary>
    public Instant BeamSince { get; internal set; }

    /// <summary>The last instant at which the beam was seen on; null before the first.</summary>
    public Instant? BeamLastOn { get; internal set; }

    /// <summary>Whether the beam is on: from <c>lasing</c>, else from tube current; null where neither is known.</summary>
    public bool? BeamOn { get; internal set; }

    /// <summary>How long no channel of the machine has spoken, in seconds, measured from tick to tick.</summary>
    public double QuietSeconds { get; internal set; }

    /// <summary>The channels renewed by the latest group of samples.</summary>
    public ChannelSet Fresh { get; internal set; }

    /// <summary>The instant of <see cref="Fresh"/>.</summary>
    public Instant FreshAt { get; internal set; }

    /// <summary>How many channels cannot be believed now.</summary>
    public int Faults => BitOperations.PopCount(_faulty);

    /// <summary>The channel has spoken at least once, whatever its state now.</summary>
    public bool Knows(Channel channel) => channel.IsCanonical ? Knows(channel.Index) : IsMet(channel, out var place) && _others[place].Channel is not null;

    /// <summary>The channel's value may be used: known, and nothing against it.</summary>
    public bool Has(Channel channel) => channel.IsCanonical ? Has(channel.Index) : Knows(channel);

    /// <summary>As <see cref="Has(Channel)"/>, and not older than <paramref name="oldest"/>.</summary>
    public bool Has(Channel channel, TimeSpan oldest) => Has(channel) && IsWithin(TimeOf(channel), oldest);

    /// <summary>The latest value, in the channel's unit; 0 where it never spoke, so ask <see cref="Has(Channel)"/> first.</summary>
    public double this[Channel channel] => channel.IsCanonical ? _canonical[channel.Index].Value : IsMet(channel, out var place) ? _others[place].Latest.Value : 0;

    public Instant TimeOf(Channel channel) => channel.IsCanonical ? _canonical[channel.Index].Time : IsMet(channel, out var place) ? _others[place].Latest.Time : default;

    public ChannelFault FaultOf(Channel channel) => channel.IsCanonical ? FaultOf(channel.Index) : ChannelFault.None;

    /// <summary>The canonical channels that may be used, by index.</summary>
    internal uint Good => _good;

    /// <summary>The canonical channels that have spoken, by index.</summary>
    internal uint Known => _known;

    /// <inheritdoc cref="Knows(Channel)"/>
    internal bool Knows(int canonicalIndex) => (_known & (1u << canonicalIndex)) != 0;

    /// <inheritdoc cref="Has(Channel)"/>
    internal bool Has(int canonicalIndex) => (_good & (1u << canonicalIndex)) != 0;

    /// <inheritdoc cref="Has(Channel, TimeSpan)"/>
    internal bool Has(int canonicalIndex, TimeSpan oldest) => Has(canonicalIndex) && IsWithin(_canonical[canonicalIndex].Time, oldest);

    /// <inheritdoc cref="this[Channel]"/>
    internal double this[int canonicalIndex] => _canonical[canonicalIndex].Value;

    internal Instant TimeOf(int canonicalIndex) => _canonical[canonicalIndex].Time;

    internal ChannelFault FaultOf(int canonicalIndex) => (ChannelFault)((_faults >> (BitsOfFault * canonicalIndex)) & 0xf);

    /// <summary>The channel by its name; null where one outside the canonical ones was never heard.</summary>
    public Channel? Find(string name)
    {
        foreach (var channel in Channel.CanonicalSpan)
        {
            if (channel.Name == name)
                return channel;
        }

        foreach (ref readonly var other in _others.AsSpan())
        {
            if (other.Channel?.Name == name)
                return other.Channel;
        }

        return null;
    }

    /// <summary>The channel is among <see cref="Fresh"/>.</summary>
    public bool IsFresh(Channel channel) =>
        channel.IsCanonical ? Fresh.Has(channel) : Fresh.Overlaps(ChannelSet.Others) && TimeOf(channel) == FreshAt;

    /// <inheritdoc cref="IsFresh(Channel)"/>
    internal bool IsFresh(int canonicalIndex) => (Fresh.Bits & (1u << canonicalIndex)) != 0;

    internal bool AnyFault => _faulty != 0;

    /// <summary>The canonical channels that cannot be believed now, by index.</summary>
    internal uint Faulty => _faulty;

    /// <summary>What a rule lacks where it needs the channel: null where it has it.</summary>
    public string? Lack(Channel channel) =>
        !Knows(channel) ? $"{channel.Name}: never heard"
        : FaultOf(channel) is var fault && fault != ChannelFault.None ? $"{channel.Name}: {Name(fault)}"
        : null;

    internal static string Name(ChannelFault fault) => fault switch
    {
        ChannelFault.Silent => "silent",
        ChannelFault.Stuck => "stuck",
        ChannelFault.Implausible => "implausible",
        _ => "good",
    };

    /// <summary>Takes the newest value of a canonical channel.</summary>
    internal void Set(int canonicalIndex, Instant at, double value)
    {
        ref var latest = ref _canonical[canonicalIndex];
        latest.Value = value;
        latest.Time = at;
        _known |= 1u << canonicalIndex;
        _good |= (1u << canonicalIndex) & ~_faulty;
    }

    /// <summary>Takes the newest value of a channel that is not canonical.</summary>
    internal void SetOther(Channel channel, Instant at, double value)
    {
        var place = channel.Index - Channel.CanonicalCount;
        if (place >= _others.Length)
            Array.Resize(ref _others, Math.Max(place + 1, _others.Length * 2));
        _others[place] = new OtherChannel { Latest = new Latest { Value = value, Time = at }, Channel = channel };
    }

    internal void SetFault(int canonicalIndex, ChannelFault fault)
    {
        var shift = BitsOfFault * canonicalIndex;
        _faults = (_faults & ~(0xful << shift)) | ((ulong)fault << shift);
        var bit = 1u << canonicalIndex;
        _faulty = fault == ChannelFault.None ? _faulty & ~bit : _faulty | bit;
        _good = _known & ~_faulty;
    }

    /// <summary>The state of the canonical channels; others are met again with their next sample.</summary>
    internal void Visit(StateVisitor state)
    {
        for (var i = 0; i < Channel.CanonicalCount; i++)
        {
            ref var latest = ref _canonical[i];
            var (known, fault) = (Knows(i), FaultOf(i));
            state.Walk(ref latest.Value);
            state.Walk(ref latest.Time);
            state.Walk(ref known);
            state.Walk(ref fault);
            if (fault is < ChannelFault.None or > ChannelFault.Implausible)
                StateVisitor.Refuse();
            _known = known ? _known | (1u << i) : _known & ~(1u << i);
            SetFault(i, fault);
        }

        var (at, since, lastOn, on) = (At, BeamSince, BeamLastOn, BeamOn switch { null => 0, false => 1, true => 2 });
        state.Walk(ref at);
        state.Walk(ref since);
        state.Walk(ref lastOn);
        state.Walk(ref on);
        (At, BeamSince, BeamLastOn, BeamOn) = (at, since, lastOn, on switch { 0 => null, 1 => false, _ => true });
    }

    private const int BitsOfFault = 4;

    // As At - time <= oldest, whose difference is cut to whole ticks.
    private bool IsWithin(Instant time, TimeSpan oldest) => At.UnixNanoseconds - time.UnixNanoseconds < (oldest.Ticks + 1) * 100;

    private bool IsMet(Channel channel, out int place)
    {
        place = channel.Index - Channel.CanonicalCount;
        return place < _others.Length;
    }

    private struct Latest
    {
        public double Value;
        public Instant Time;
    }

    private struct OtherChannel
    {
        public Latest Latest;
        public Channel? Channel;
    }

    [InlineArray(Channel.CanonicalCount)]
    private struct CanonicalChannels
    {
        private Latest _first;
    }
}
