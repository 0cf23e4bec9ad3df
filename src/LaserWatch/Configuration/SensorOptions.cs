using System.ComponentModel.DataAnnotations;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>One sensor: where its messages come from, what in them is the value, and how it becomes the channel's canonical unit.</summary>
public sealed record SensorOptions
{
    /// <summary>The MQTT topic; null: the contract's own, <c>laserwatch/MACHINE/CHANNEL</c>.</summary>
    [StringLength(1000, MinimumLength = 1)]
    public string? Topic { get; init; }

    /// <summary>The channel that the value feeds, such as <c>air_pressure</c>; a name outside the contract's list makes a channel of your own. Null only with <c>senmlNames</c>.</summary>
    public string? Channel { get; init; }

    /// <summary>JSON Pointer (RFC 6901) to the value, such as <c>/readings/0/psi</c>; null: a bare number, or the key <c>value</c>.</summary>
    public string? Value { get; init; }

    /// <summary>JSON Pointer (RFC 6901) to the time; null: the key <c>time</c>, and without one the time of arrival.</summary>
    public string? Time { get; init; }

    /// <summary>The unit the sensor reports, such as <c>psi</c>, <c>bar</c>, <c>°F</c>, <c>A</c>; with calibration, the unit that its last step gives. Null: the channel's canonical unit.</summary>
    [StringLength(32, MinimumLength = 1)]
    public string? Unit { get; init; }

    /// <summary>For packs of SenML (RFC 8428): which resolved name feeds which channel. Empty: the last part of the name is the channel.</summary>
    public IReadOnlyDictionary<string, string> SenmlNames { get; init; } = new Dictionary<string, string>();

    /// <summary>All channels that this sensor feeds, as far as its entry names them.</summary>
    internal IEnumerable<string> Channels => Channel is null ? SenmlNames.Values : SenmlNames.Values.Prepend(Channel);

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (Topic is not null && !TopicFilter.IsName(Topic))
            yield return new("topic", $"'{Topic}' is not a topic", "write the one topic of this sensor, without '+' and '#'");
        if (Channel is null && SenmlNames.Count == 0)
            yield return new("", "no channel is named", "add the key 'channel', or 'senmlNames' for a pack of SenML");
        if (Channel is null && Topic is null)
            yield return new("", "neither topic nor channel is named", "add the key 'topic'");
        foreach (var (member, channel) in SenmlNames.Select(n => ($"senmlNames.{n.Key}", n.Value)).Prepend(("channel", Channel ?? "x")))
        {
            if (!ChannelTable.IsValidName(channel))
                yield return new(member, $"'{channel}' is not a channel name", "use 1 to 64 of A-Z a-z 0-9 _ - .");
            else if (channel is "job" or "service" or "command" or "status" or "alarm")
                yield return new(member, $"'{channel}' is a topic of events, not a channel", "give the channel another name");
        }

        foreach (var (member, pointer) in new[] { ("value", Value), ("time", Time) })
        {
            if (pointer is not null && !IsPointer(pointer))
                yield return new(member, $"'{pointer}' is not a JSON Pointer", "begin it with '/' and part the steps with '/', as in \"/readings/0/psi\"; write ~0 for ~ and ~1 for /");
        }
    }

    private static bool IsPointer(string pointer)
    {
        if (pointer.Length > 0 && pointer[0] != '/')
            return false;
        for (var i = 0; i < pointer.Length; i++)
        {
            if (pointer[i] == '~' && (i + 1 == pointer.Length || pointer[i + 1] is not ('0' or '1')))
                return false;
        }

        return true;
    }
}
