using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>A channel is outside the limits the shop gave it.</summary>
internal sealed class ChannelLimit(string channelName, ChannelLimitOptions options) : IDetector
{
    private DelayedSwitch _switch;
    private Channel? _channel;

    public string Condition { get; } = Conditions.OutOfLimits(channelName);

    public ChannelSet Triggers => ChannelSet.Others;

    /// <summary>Takes the channel's next value; its name is known, its place in the table is not until it speaks.</summary>
    public Verdict Update(Channel channel, Reading reading)
    {
        _channel = channel;
        return Update(reading);
    }

    public Verdict Update(Reading reading)
    {
        if (_channel is null || !reading.Has(_channel))
            return default;
        var value = reading[_channel];
        var bad = value < options.Low || value > options.High;
        var good = !(value < options.Low + options.Deadband) && !(value > options.High - options.Deadband);
        var on = _switch.Update(bad, good, reading.TimeOf(_channel), options.OnDelaySeconds, options.OffDelaySeconds);
        return new Verdict(on ? Judgement.Breach : Judgement.Normal, value, value > options.High ? options.High : options.Low ?? options.High);
    }

    public Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            options.Priority, _channel?.Unit ?? "",
            string.Create(CultureInfo.InvariantCulture, $"{channelName} at {verdict.Value:0.###} is outside its limit of {verdict.Limit:0.###}"),
            [], Advice.For(Condition))
        : new Finding(options.Priority, _channel?.Unit ?? "", $"{channelName} is within its limits", [], []);

    public IReadOnlyList<string> Lacks(Reading reading) => _channel is null ? [$"{channelName}: never heard"] : [];

    public void Visit(StateVisitor state) => _switch.Visit(state);
}
