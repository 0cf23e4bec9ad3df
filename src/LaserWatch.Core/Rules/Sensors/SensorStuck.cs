using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string SensorStuck = "sensor-stuck";
}

/// <summary>A channel shows one value, to the last bit, for longer than it ever did.</summary>
internal sealed class SensorStuck(SensorHabits sensors) : SensorFault(ChannelFault.Stuck, sensors, About)
{
    public static readonly RuleSheet About = new(Conditions.SensorStuck)
    {
        Judged = "A channel shows one value to the last bit, with the beam on, ten times as long as ever before.",
        Triggers = EveryChannel,
        Weights =
        [
            new(Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "rules are blind"),
        ],
        Checks =
        [
            "Compare the reading with an instrument; the tube current only by a qualified person, in the low-voltage return",
            "Machine off: look at the sensor's connector; then restart its board",
            "Until it moves again, watch that quantity by eye",
        ],
    };
}
