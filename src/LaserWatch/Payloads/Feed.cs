using LaserWatch.Calibration;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>One channel fed by one topic: a rule made ready for work, or what one of LaserWatch's own topics means.</summary>
internal sealed class Feed
{
    private static readonly JsonPointer UsualValue = Parse("/value");
    private static readonly JsonPointer UsualTime = Parse("/time");
    private static readonly Dictionary<string, Channel> Canonical = Channel.Canonical.ToDictionary(c => c.Name);

    private readonly string? _unit;

    /// <param name="rule">Null for a topic of LaserWatch's own that no rule speaks of.</param>
    /// <param name="channelName">Null where only SenML names can tell.</param>
    public Feed(TopicRule? rule, string? channelName, ChannelTable channels)
    {
        ChannelName = channelName;
        ChannelIsGiven = rule?.Channel is not null;
        HasValuePointer = rule?.ValuePointer is not null;
        ValuePointer = rule?.ValuePointer is { } value ? Parse(value) : UsualValue;
        TimePointer = rule?.TimePointer is { } time ? Parse(time) : HasValuePointer ? null : UsualTime;
        TimeIsExpected = rule?.TimePointer is not null;
        MayBeMissing = rule?.MayBeMissing ?? false;
        Chain = rule is { Calibration.Count: > 0 } ? new CalibrationChain(rule.Calibration) : CalibrationChain.Empty;
        Names = rule is { Names.Count: > 0 } ? new Dictionary<string, string>(rule.Names, StringComparer.Ordinal) : null;
        UnitIsGiven = rule?.Unit is not null || Chain.ValueUnit is not null;
        _unit = rule?.Unit ?? Chain.ValueUnit;

        if (channelName is null)
            return;
        if (Canonical.TryGetValue(channelName, out var channel) || channels.TryFind(channelName, out channel))
            Settle(channel);
    }

    public string? ChannelName { get; }

    /// <summary>A rule names the channel; else the topic does.</summary>
    public bool ChannelIsGiven { get; }

    /// <summary>Null until the first good value of a channel that nobody declared.</summary>
    public Channel? Channel { get; private set; }

    public JsonPointer ValuePointer { get; }

    public bool HasValuePointer { get; }

    public JsonPointer? TimePointer { get; }

    /// <summary>A rule says that there is a time; else it is optional.</summary>
    public bool TimeIsExpected { get; }

    public bool MayBeMissing { get; }

    public CalibrationChain Chain { get; }

    /// <summary>A rule, or its last step, says in which unit the calibrated value is.</summary>
    public bool UnitIsGiven { get; }

    public UnitConversion Conversion { get; private set; } = UnitConversion.Identity;

    /// <summary>The unit cannot be converted to the channel's: nothing can be taken, and this is why.</summary>
    public string? UnitMistake { get; private set; }

    public Dictionary<string, string>? Names { get; }

    /// <summary>On and off can be told as true and false only where a channel has no unit.</summary>
    public bool TakesBooleans => Channel is { } channel ? channel.Unit.Length == 0 : string.IsNullOrEmpty(_unit);

    /// <summary>Finds the channel, and adds it where nobody declared it.</summary>
    public Rejection TrySettle(ChannelTable channels)
    {
        if (Channel is not null)
            return Rejection.None;
        if (ChannelName is null || !ChannelTable.IsValidName(ChannelName))
            return Rejection.UnknownChannel;
        if (!channels.TryGet(ChannelName, _unit ?? "", out var channel))
            return Rejection.TooManyChannels;
        Settle(channel);
        return Rejection.None;
    }

    private void Settle(Channel channel)
    {
        Channel = channel;
        if (_unit is null)
            return;
        if (Units.TryGet(channel.Unit, _unit, out var conversion))
            Conversion = conversion;
        else
            UnitMistake = Units.Explain(channel.Name, channel.Unit, _unit);
    }

    private static JsonPointer Parse(string text) =>
        JsonPointer.TryParse(text, out var parsed, out var mistake) ? parsed : throw new ArgumentException(mistake, nameof(text));
}
