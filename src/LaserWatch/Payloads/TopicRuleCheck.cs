using System.ComponentModel.DataAnnotations;
using System.Reflection;
using LaserWatch.Calibration;
using LaserWatch.Configuration;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>Finds what is wrong with a <see cref="TopicRule"/>, so that it is said at the start and not met in every message.</summary>
internal static class TopicRuleCheck
{
    private static readonly Dictionary<string, Channel> Canonical = Channel.Canonical.ToDictionary(c => c.Name);

    public static IEnumerable<string> Mistakes(TopicRule rule, string root, IReadOnlyDictionary<string, string>? declaredUnits)
    {
        if (TopicFilter.Mistake(rule.Topic) is { } wrongTopic)
            yield return wrongTopic;
        if (rule.Machine is { } machine && !MachineName.IsValid(machine))
            yield return $"machine '{machine}' is not valid: use {MachineName.Rule}";
        if (rule.Machine is null && !rule.Topic.StartsWith(root + "/", StringComparison.Ordinal))
            yield return $"topic '{rule.Topic}' is not under {root}/, so it does not tell the machine: name it in machine";
        if (rule.Channel is { } channel && !ChannelTable.IsValidName(channel))
            yield return $"channel '{channel}' is not valid: use 1 to 64 of A-Z a-z 0-9 _ - .";
        foreach (var (name, target) in rule.Names)
        {
            if (!ChannelTable.IsValidName(target))
                yield return $"names['{name}']: channel '{target}' is not valid: use 1 to 64 of A-Z a-z 0-9 _ - .";
        }

        foreach (var (what, text) in new[] { ("valuePointer", rule.ValuePointer), ("timePointer", rule.TimePointer) })
        {
            if (text is not null && !JsonPointer.TryParse(text, out _, out var mistake))
                yield return $"{what}: {mistake}";
        }

        if (rule.ValuePointer is not null && rule.Channel is null && !rule.Topic.StartsWith(root + "/", StringComparison.Ordinal))
            yield return $"valuePointer '{rule.ValuePointer}' gives one value, but nothing tells its channel: name it in channel";
        if (rule.ValuePointer is not null && rule.Names.Count > 0)
            yield return "names are for SenML packs, valuePointer for other JSON: give one of the two";
        if (rule.Channel is null && (rule.Calibration.Count > 0 || rule.Unit is not null)
            && !rule.Topic.StartsWith(root + "/", StringComparison.Ordinal))
            yield return "unit and calibration belong to one channel: name it in channel";

        for (var i = 0; i < rule.Calibration.Count; i++)
        {
            foreach (var mistake in OutOfBounds(rule.Calibration[i]))
                yield return $"calibration step {i + 1}: {mistake}";
        }

        foreach (var mistake in CalibrationChain.Mistakes(rule.Calibration))
            yield return $"calibration {mistake}";
        if (UnitMistake(rule, declaredUnits) is { } wrongUnit)
            yield return wrongUnit;
    }

    private static IEnumerable<string> OutOfBounds(CalibrationStep step) =>
        from property in ConfigurationJson.Options.GetTypeInfo(step.GetType()).Properties
        let own = property.AttributeProvider as PropertyInfo
        where own is not null
        from bound in own.GetCustomAttributes<ValidationAttribute>(inherit: true)
        where !bound.IsValid(property.Get!(step))
        select bound.FormatErrorMessage(own.Name);

    // Rules without a channel may stand side by side: each adds its SenML names.
    public static IEnumerable<string> Conflicts(IReadOnlyList<TopicRule> rules)
    {
        var ofChannels = rules.Where(rule => rule.Channel is not null).GroupBy(rule => (rule.Topic, rule.Machine, rule.Channel));
        foreach (var twice in ofChannels.Where(group => group.Count() > 1))
        {
            var (topic, machine, channel) = twice.Key;
            yield return $"topic '{topic}' has {twice.Count()} rules for channel {channel} of {(machine is null ? "the machine in it" : $"machine {machine}")}: keep one";
        }
    }

    private static string? UnitMistake(TopicRule rule, IReadOnlyDictionary<string, string>? declaredUnits)
    {
        var given = rule.Calibration.Count > 0 ? rule.Calibration[^1].ValueUnit : null;
        if (given is not null && rule.Unit is not null && !(Units.TryGet(given, rule.Unit, out var same) && same == UnitConversion.Identity))
            return $"unit is '{rule.Unit}', but the last calibration step gives {given}: leave unit out";
        if (rule.Channel is null)
            return null;
        var unit = rule.Unit ?? given;
        var canonical = Canonical.TryGetValue(rule.Channel, out var known) ? known.Unit : declaredUnits?.GetValueOrDefault(rule.Channel);
        return unit is null || canonical is null || Units.TryGet(canonical, unit, out _)
            ? null
            : Units.Explain(rule.Channel, canonical, unit);
    }
}
