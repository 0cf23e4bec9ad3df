using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>From an MQTT message to samples and events.</summary>
public sealed class MessageDecoder
{
    /// <param name="machines">The configured machines; they matter only with <see cref="PayloadOptions.OnlyConfiguredMachines"/>.</param>
    /// <param name="channels">Declare channels outside the contract in it first, so that their units are known.</param>
    /// <exception cref="ArgumentException">A rule has a mistake: ask <see cref="TopicRule.Mistakes"/> first.</exception>
    public MessageDecoder(
        PayloadOptions options, IReadOnlyList<TopicRule> rules, IReadOnlyCollection<string> machines, ChannelTable channels)
    {
        _ = (options, rules, machines, channels);
        throw new NotImplementedException();
    }

    /// <summary>Decodes one message. Never throws, whatever the bytes; allocates nothing for a good sample of a known topic.</summary>
    public void Decode(string topic, ReadOnlySpan<byte> payload, Instant arrival, DecodedMessage into) => throw new NotImplementedException();
}
