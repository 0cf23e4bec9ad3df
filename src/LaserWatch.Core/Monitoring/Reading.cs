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
/// <remarks>Changed in place by its owner, <see cref="MachineWatch"/>; a detector reads it and keeps nothing of it.</remarks>
public sealed class Reading
{
    private Latest[] _channels = new Latest[Channel.Canonical.Count];

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

    /// <summary>How many channels cannot be believed now.</summary>
    public int Faults { get; private set; }

    /// <summary>The channel has spoken at least once, whatever its state now.</summary>
    public bool Knows(Channel channel) => channel.Index < _channels.Length && _channels[channel.Index].IsKnown;

    /// <summary>The channel's value may be used: known, and nothing against it.</summary>
    public bool Has(Channel channel) => channel.Index < _channels.Length && _channels[channel.Index].IsGood;

    /// <summary>As <see cref="Has(Channel)"/>, and not older than <paramref name="oldest"/>.</summary>
    public bool Has(Channel channel, TimeSpan oldest) => Has(channel) && At - _channels[channel.Index].Time <= oldest;

    /// <summary>The latest value, in the channel's unit; 0 where it never spoke, so ask <see cref="Has(Channel)"/> first.</summary>
    public double this[Channel channel] => channel.Index < _channels.Length ? _channels[channel.Index].Value : 0;

    public Instant TimeOf(Channel channel) => channel.Index < _channels.Length ? _channels[channel.Index].Time : default;

    public ChannelFault FaultOf(Channel channel) => channel.Index < _channels.Length ? _channels[channel.Index].Fault : ChannelFault.None;

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

    internal void Set(Channel channel, Instant at, double value)
    {
        Grow(channel);
        ref var latest = ref _channels[channel.Index];
        latest.Value = value;
        latest.Time = at;
        latest.IsKnown = true;
    }

    internal void SetFault(Channel channel, ChannelFault fault)
    {
        Grow(channel);
        ref var latest = ref _channels[channel.Index];
        if (latest.Fault == fault)
            return;
        Faults += (fault == ChannelFault.None ? 0 : 1) - (latest.Fault == ChannelFault.None ? 0 : 1);
        latest.Fault = fault;
    }

    /// <summary>The state of the canonical channels; others are met again with their next sample.</summary>
    internal void Visit(StateVisitor state)
    {
        for (var i = 0; i < Channel.Canonical.Count; i++)
        {
            ref var latest = ref _channels[i];
            state.Walk(ref latest.Value);
            state.Walk(ref latest.Time);
            state.Walk(ref latest.IsKnown);
            state.Walk(ref latest.Fault);
        }

        if (state.IsLoading)
            Faults = _channels.Count(latest => latest.Fault != ChannelFault.None);

        var (at, since, lastOn, on) = (At, BeamSince, BeamLastOn, BeamOn switch { null => 0, false => 1, true => 2 });
        state.Walk(ref at);
        state.Walk(ref since);
        state.Walk(ref lastOn);
        state.Walk(ref on);
        (At, BeamSince, BeamLastOn, BeamOn) = (at, since, lastOn, on switch { 0 => null, 1 => false, _ => true });
    }

    private void Grow(Channel channel)
    {
        if (channel.Index >= _channels.Length)
            Array.Resize(ref _channels, Math.Max(channel.Index + 1, _channels.Length * 2));
    }

    private struct Latest
    {
        public double Value;
        public Instant Time;
        public ChannelFault Fault;
        public bool IsKnown;

        public readonly bool IsGood => IsKnown && Fault == ChannelFault.None;
    }
}
