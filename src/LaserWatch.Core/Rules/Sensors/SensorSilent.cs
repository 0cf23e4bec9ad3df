using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string SensorSilent = "sensor-silent";
}

/// <summary>A channel stopped speaking during a run.</summary>
internal sealed class SensorSilent(SensorHabits sensors) : SensorFault(ChannelFault.Silent, sensors, About)
{
    public static readonly RuleSheet About = new(Conditions.SensorSilent)
    {
        Judged = "A channel that speaks regularly has stopped during a run. The rules that need it are blind and say so.",
        Triggers = EveryChannel,
        Weights =
        [
            new(Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "rules are blind"),
        ],
        Checks =
        [
            "Look at the sensor's power and network outside the machine, and at the broker",
            "Restart the sensor's board",
            "Until it speaks again, watch that quantity by eye",
        ],
    };
}
