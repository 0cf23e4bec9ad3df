using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    /// <summary>The condition of a configured limit of a channel.</summary>
    public static string OutOfLimits(string channel) =>
        channel.ToLowerInvariant().Replace('_', '-').Replace('.', '-') + "-out-of-limits";
}

/// <summary>A channel is outside the limits the shop gave it.</summary>
internal sealed class ChannelLimit(string channelName, ChannelLimitOptions options) : Rule(About(channelName))
{
    private DelayedSwitch _switch;

    private static RuleSheet About(string channelName) => new(Conditions.OutOfLimits(channelName))
    {
        Judged = "your own limits of a channel",
        Triggers = Channel.Canonical.FirstOrDefault(c => c.Name == channelName) is { } canonical ? ChannelSet.Of(canonical) : ChannelSet.Others,
        Weights = [],
        Checks =
        [
            "Compare the reading with an instrument; the tube current only by a qualified person, in the low-voltage return",
            "See what has changed at the machine",
        ],
    };

    public override Verdict Update(Reading reading)
    {
        if (reading.Find(channelName) is not { } channel || !reading.Has(channel) || !reading.IsFresh(channel))
            return default;
        var value = reading[channel];
        var bad = value < options.Low || value > options.High;
        var good = !(value < options.Low + options.Deadband) && !(value > options.High - options.Deadband);
        var on = _switch.Update(bad, good, reading.TimeOf(channel), options.OnDelaySeconds, options.OffDelaySeconds);
        return new Verdict(on ? Judgement.Breach : Judgement.Normal, value, value > options.High ? options.High : options.Low ?? options.High);
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        var unit = reading.Find(channelName)?.Unit ?? "";
        return verdict.Judgement == Judgement.Breach
            ? new Finding(
                options.Priority, unit,
                string.Create(CultureInfo.InvariantCulture, $"{channelName} at {verdict.Value:0.###} is outside its limit of {verdict.Limit:0.###}"), [], Checks)
            : new Finding(options.Priority, unit, $"{channelName} is within its limits", [], []);
    }

    public override IReadOnlyList<string> Lacks(Reading reading) => reading.Find(channelName) is null ? [$"{channelName}: never heard"] : [];

    public override void Visit(StateVisitor state) => _switch.Visit(state);
}
