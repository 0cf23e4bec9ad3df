using System.ComponentModel.DataAnnotations;
using LaserWatch.Calibration;
using LaserWatch.Payloads;

namespace LaserWatch.Configuration;

/// <summary>One sensor: where its messages come from, what in them is the value, and how it becomes the channel's canonical unit.</summary>
public sealed record SensorOptions : ICheckedOptions
{
    /// <summary>The MQTT topic, or a filter with <c>+</c> and <c>#</c>; null: LaserWatch's own, <c>laserwatch/MACHINE/CHANNEL</c>.</summary>
    [StringLength(1000, MinimumLength = 1)]
    public string? Topic { get; init; }

    /// <summary>The channel that the value feeds, such as <c>air_pressure</c>; a name outside LaserWatch's own list makes a channel of your own. Null only with <c>senmlNames</c>.</summary>
    public string? Channel { get; init; }

    /// <summary>JSON Pointer (RFC 6901) to the value, such as <c>/readings/0/psi</c>; null: a bare number, or the key <c>value</c>.</summary>
    public string? Value { get; init; }

    /// <summary>JSON Pointer (RFC 6901) to the time; null: the key <c>time</c>, or with <c>value</c> given, and wherever there is none, the time of arrival.</summary>
    public string? Time { get; init; }

    /// <summary>The unit the sensor reports, such as <c>psi</c>, <c>bar</c>, <c>°F</c>, <c>A</c>; with calibration, the unit that its last step gives. Null: the one that the last step is known to give, or the channel's own.</summary>
    [StringLength(32, MinimumLength = 1)]
    public string? Unit { get; init; }

    /// <summary>For packs of SenML (RFC 8428): which resolved name feeds which channel. Names left out feed the channel called as their last part.</summary>
    public IReadOnlyDictionary<string, string> SenmlNames { get; init; } = new Dictionary<string, string>();

    /// <summary>Steps from what is sent to what is measured, in order: such as counts by <c>divider</c> to ohms, then by <c>ntc-beta</c> to °C. Empty: none.</summary>
    public IReadOnlyList<CalibrationStep> Calibration { get; init; } = [];

    /// <summary>True where the sensor sends this value only now and then, so that a message without it is no mistake.</summary>
    public bool MayBeMissing { get; init; }

    /// <summary>All channels that this sensor feeds, as far as its entry names them.</summary>
    internal IEnumerable<string> Channels => Channel is null ? SenmlNames.Values : SenmlNames.Values.Prepend(Channel);

    /// <summary>The unit of what the sensor gives in the end; null where nothing tells it.</summary>
    internal string? GivenUnit => Unit ?? (Calibration.Count > 0 ? Calibration[^1].ValueUnit : null);

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (Channel is null && SenmlNames.Count == 0)
            yield return new("", "no channel is named", "add the key 'channel', or 'senmlNames' for a pack of SenML");
        else if (Channel is null && Topic is null)
            yield return new("", "neither topic nor channel is named", "add the key 'topic'");
        foreach (var (member, channel) in SenmlNames.Select(n => ($"senmlNames.{n.Key}", (string?)n.Value)).Prepend(("channel", Channel)))
        {
            if (channel is "job" or "service" or "command" or "status" or "alarm")
                yield return new(member, $"'{channel}' is a topic of events, not a channel", "give the channel another name");
        }
    }

    internal TopicRule ToRule(string machine, string topicRoot) => new()
    {
        Topic = Topic ?? $"{topicRoot}/{machine}/{Channel}",
        Machine = machine,
        Channel = Channel,
        ValuePointer = Value,
        TimePointer = Time,
        Unit = Unit,
        Calibration = Calibration,
        Names = SenmlNames,
        MayBeMissing = MayBeMissing,
    };
}
