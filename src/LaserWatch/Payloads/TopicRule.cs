using LaserWatch.Calibration;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>What the messages of a topic mean: for sensors that do not use LaserWatch's own topics and canonical units.</summary>
/// <remarks>
/// Several rules may name one topic, each taking its own value from the message, or feeding a machine of its own; of two that feed
/// the same channel of a machine the first counts. A rule for one of LaserWatch's own topics (<c>laserwatch/bay1/coolant_in</c>) calibrates it.
/// </remarks>
public sealed record TopicRule
{
    /// <summary>An MQTT topic filter, in which <c>+</c> stands for one level and <c>#</c>, at the end, for all that follow.</summary>
    public string Topic { get; init; } = "";

    /// <summary>The machine; null where the topic is under the root, so that its next level is the machine.</summary>
    public string? Machine { get; init; }

    /// <summary>The channel; null where the topic's last level or the names in a SenML pack tell it.</summary>
    public string? Channel { get; init; }

    /// <summary>Where in JSON the value stands, as a JSON Pointer (RFC 6901) such as <c>/sensors/0/temp</c>; null: <c>/value</c>.</summary>
    public string? ValuePointer { get; init; }

    /// <summary>Where in JSON the time stands. Null: <c>/time</c>, or arrival time where <see cref="ValuePointer"/> is given.</summary>
    public string? TimePointer { get; init; }

    /// <summary>The unit of the value after calibration, such as <c>bar</c>; null: the one the last step gives, or the channel's own.</summary>
    public string? Unit { get; init; }

    /// <summary>From what is sent to what is measured, in order.</summary>
    public IReadOnlyList<CalibrationStep> Calibration { get; init; } = [];

    /// <summary>Channels by SenML name, whole as resolved or what follows its last ':' or '/'; others are taken by that last part.</summary>
    public IReadOnlyDictionary<string, string> Names { get; init; } = new Dictionary<string, string>();

    /// <summary>True where the sensor sends this value only now and then, so that a message without it is no mistake.</summary>
    public bool MayBeMissing { get; init; }

    /// <summary>What is wrong with the rule, and the mend.</summary>
    /// <param name="root">The root of LaserWatch's own topics, of <see cref="PayloadOptions.Root"/>.</param>
    /// <param name="declaredUnits">Units of channels that are not canonical, by channel; null where none are declared.</param>
    public IEnumerable<string> Mistakes(string root, IReadOnlyDictionary<string, string>? declaredUnits = null) =>
        TopicRuleCheck.Mistakes(this, root, declaredUnits);

    /// <summary>Rules that can never be heard, since an earlier one feeds the same channel of the same machine from the same topic, and the mend.</summary>
    public static IEnumerable<string> Conflicts(IReadOnlyList<TopicRule> rules) => TopicRuleCheck.Conflicts(rules);
}
