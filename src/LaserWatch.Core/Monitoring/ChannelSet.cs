using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>A set of canonical channels, and two signs beside them: time has passed, and the run has changed.</summary>
public readonly record struct ChannelSet(uint Bits)
{
    public static readonly ChannelSet Tick = new(1u << 30);
    public static readonly ChannelSet RunChange = new(1u << 31);

    /// <summary>Stands for every channel that is not canonical.</summary>
    public static readonly ChannelSet Others = new(1u << 29);

    public static ChannelSet Of(params ReadOnlySpan<Channel> channels)
    {
        var bits = 0u;
        foreach (var channel in channels)
            bits |= Bit(channel);
        return new(bits);
    }

    public static ChannelSet operator |(ChannelSet a, ChannelSet b) => new(a.Bits | b.Bits);

    /// <summary>One bit for each canonical channel, at its index.</summary>
    internal uint CanonicalBits => Bits & ((1u << Channel.CanonicalCount) - 1);

    public bool Overlaps(ChannelSet other) => (Bits & other.Bits) != 0;

    public bool Has(Channel channel) => (Bits & Bit(channel)) != 0;

    public ChannelSet With(Channel channel) => new(Bits | Bit(channel));

    private static uint Bit(Channel channel) => channel.IsCanonical ? 1u << channel.Index : Others.Bits;
}
